"""An index of unfinished overs by what came after them"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    some = sa.text("until IS NOT NULL")
    op.create_index("over_until", "over", ["until"], unique=False, sqlite_where=some, postgresql_where=some)
