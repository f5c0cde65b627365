"""Which logs carry overs; seen time in the tallies, which are made anew"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("log", schema=None) as batch_op:
        batch_op.add_column(sa.Column("carries", sa.Boolean(), server_default=sa.false(), nullable=False))
    with op.batch_alter_table("tally", schema=None) as batch_op:
        batch_op.add_column(sa.Column("seen_us", sa.BigInteger(), nullable=True))
    op.execute("DELETE FROM tally")
    log, over, opened, event = (
        sa.table(name, sa.column("id"), sa.column("log_id"), sa.column("event"), sa.column("carries", sa.Boolean()))
        for name in ("log", "over", "open_over", "event")
    )
    tells = [sa.select(table.c.log_id).where(table.c.log_id == log.c.id) for table in (over, opened)]
    tells.append(sa.select(event.c.log_id).where(event.c.log_id == log.c.id, event.c.event.in_(("refused", "page"))))
    op.execute(sa.update(log).where(sa.or_(*(one.exists() for one in tells))).values(carries=sa.true()))
