"""Sessions of overs, what a page is made of, and how far a journal was read"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

ADDED = (
    ("log", "cursor", sa.Text()),
    ("over", "session", sa.Text()),
    ("open_over", "session", sa.Text()),
    ("open_over", "until", sa.BigInteger()),
    ("event", "session", sa.Text()),
    ("event", "bit_rate", sa.BigInteger()),
    ("event", "code_words", sa.BigInteger()),
    ("event", "characters", sa.BigInteger()),
)


def upgrade() -> None:
    for table, column, kind in ADDED:
        op.add_column(table, sa.Column(column, kind, nullable=True))


def downgrade() -> None:
    for table, column, _kind in reversed(ADDED):
        op.drop_column(table, column)
