"""When lines came that have no stamp of their own"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    whole = sa.BigInteger
    op.create_table(
        "arrival",
        sa.Column("log_id", whole, primary_key=True, autoincrement=False),
        sa.Column("at", whole, primary_key=True, autoincrement=False),
        sa.Column("stamp", whole, primary_key=True, autoincrement=False),
        sa.Column("file_id", whole, primary_key=True, autoincrement=False),
        sa.Column("lines", whole, nullable=False),
        sa.Column("unread", whole, nullable=False),
    )
