"""Tallies of what is held, and of the fullest minutes"""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute("DELETE FROM tally")  # they are made anew when they are asked for
    op.add_column("tally", sa.Column("held_us", sa.BigInteger, nullable=False, server_default="0"))
    for name in ("duty_6_us", "duty_30_us", "duty_60_us"):
        op.add_column("tally", sa.Column(name, sa.BigInteger))
