"""Kept incidents of months carry no settings: an older version's held the addresses of notices with their passwords"""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    fact = sa.table("fact", sa.column("name", sa.Text))
    op.execute(
        sa.delete(fact).where(fact.c.name.startswith("report.incidents ", autoescape=True))
    )  # made anew when asked
