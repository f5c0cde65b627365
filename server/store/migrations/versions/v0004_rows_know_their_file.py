"""Rows know their file, files know how they begin and with what they were read"""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
BLOBS = ("understood", "ignored", "unread")


def upgrade() -> None:
    op.add_column("file", sa.Column("rungs", sa.LargeBinary()))
    for name in ("own_bytes", "understood", "ignored", "unread"):
        op.add_column("file", sa.Column(name, sa.BigInteger()))
    for table, name in (
        ("over", "file_id"),
        ("over", "began_id"),
        ("open_over", "began_id"),
        ("event", "file_id"),
        ("unread_line", "file_id"),
    ):
        op.add_column(table, sa.Column(name, ID))
    _line_hour_again(sa.Column("file_id", ID, nullable=False), "log_id, hour, understood, ignored, unread, 0")
    op.create_table(
        "read_with",
        sa.Column("file_id", ID, nullable=False),
        sa.Column("how", sa.Text(), nullable=False),
        sa.Column("lines", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("file_id", "how"),
    )
    op.execute("INSERT INTO read_with (file_id, how, lines) SELECT id, '', lines FROM file")
    op.create_table(
        "waiting_file",
        sa.Column("path", sa.Text(), nullable=False),
        sa.Column("log_name", sa.Text(), nullable=False),
        sa.Column("says", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("path"),
    )


def _line_hour_again(column: sa.Column[Any], select: str) -> None:
    """The hours get one more column into their key, which no database can add to a table that is there."""
    op.drop_index("line_hour_hour", table_name="line_hour")
    op.rename_table("line_hour", "line_hour_before")
    op.create_table(
        "line_hour",
        sa.Column("log_id", ID, nullable=False),
        sa.Column("hour", sa.BigInteger(), nullable=False),
        *(sa.Column(name, sa.LargeBinary(), nullable=False) for name in BLOBS),
        column,
        sa.PrimaryKeyConstraint("log_id", "hour", "file_id", name="line_hour_key"),
    )
    op.execute(
        f"INSERT INTO line_hour (log_id, hour, understood, ignored, unread, file_id) SELECT {select} FROM "
        "line_hour_before"
    )
    op.drop_table("line_hour_before")
    op.create_index("line_hour_hour", "line_hour", ["hour"])


def downgrade() -> None:
    raise NotImplementedError("an older version can't open this store: restore a copy made before")
