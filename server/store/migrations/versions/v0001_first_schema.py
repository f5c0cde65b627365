"""The first schema"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "event",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("log_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("t", sa.BigInteger(), nullable=False),
        sa.Column("event", sa.Text(), nullable=False),
        sa.Column("mode", sa.Text(), nullable=True),
        sa.Column("slot", sa.SmallInteger(), nullable=True),
        sa.Column("side", sa.Text(), nullable=True),
        sa.Column("station", sa.Text(), nullable=True),
        sa.Column("target", sa.Text(), nullable=True),
        sa.Column("network", sa.Text(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("seconds", sa.Float(), nullable=True),
        sa.Column("rssi_dbm", sa.Float(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("event", schema=None) as batch_op:
        batch_op.create_index("event_t", ["event", "t"], unique=False)

    op.create_table(
        "fact",
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name"),
    )
    op.create_table(
        "incident",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("rule", sa.Text(), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("raised", sa.BigInteger(), nullable=False),
        sa.Column("cleared", sa.BigInteger(), nullable=True),
        sa.Column("urgent", sa.Boolean(), nullable=False),
        sa.Column("says", sa.Text(), nullable=False),
        sa.Column("acknowledged", sa.BigInteger(), nullable=True),
        sa.Column("told", sa.BigInteger(), nullable=True),
        sa.Column("told_end", sa.Boolean(), nullable=False),
        sa.Column("reminders", sa.BigInteger(), nullable=False),
        sa.Column("next", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("rule", "subject", "raised", name="incident_identity"),
    )
    op.create_table(
        "line_hour",
        sa.Column("log_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("hour", sa.BigInteger(), nullable=False),
        sa.Column("understood", sa.LargeBinary(), nullable=False),
        sa.Column("ignored", sa.LargeBinary(), nullable=False),
        sa.Column("unread", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("log_id", "hour"),
    )
    with op.batch_alter_table("line_hour", schema=None) as batch_op:
        batch_op.create_index("line_hour_hour", ["hour"], unique=False)

    op.create_table(
        "log",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("dialect", sa.Text(), nullable=False),
        sa.Column("carry_us", sa.BigInteger(), nullable=True),
        sa.Column("first_us", sa.BigInteger(), nullable=True),
        sa.Column("last_us", sa.BigInteger(), nullable=True),
        sa.Column("lines", sa.BigInteger(), nullable=False),
        sa.Column("understood", sa.BigInteger(), nullable=False),
        sa.Column("ignored", sa.BigInteger(), nullable=False),
        sa.Column("unread", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("name"),
    )
    op.create_table(
        "open_over",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("log_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("file_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=True),
        sa.Column("start", sa.BigInteger(), nullable=False),
        sa.Column("mode", sa.Text(), nullable=True),
        sa.Column("slot", sa.SmallInteger(), nullable=True),
        sa.Column("side", sa.Text(), nullable=True),
        sa.Column("station", sa.Text(), nullable=True),
        sa.Column("target", sa.Text(), nullable=True),
        sa.Column("ber_pct", sa.Float(), nullable=True),
        sa.Column("loss_pct", sa.Float(), nullable=True),
        sa.Column("rssi_dbm", sa.Float(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("open_over", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_open_over_log_id"), ["log_id"], unique=False)

    op.create_table(
        "over",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("log_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("start", sa.BigInteger(), nullable=False),
        sa.Column("end", sa.BigInteger(), nullable=True),
        sa.Column("until", sa.BigInteger(), nullable=True),
        sa.Column("mode", sa.Text(), nullable=True),
        sa.Column("slot", sa.SmallInteger(), nullable=True),
        sa.Column("side", sa.Text(), nullable=True),
        sa.Column("station", sa.Text(), nullable=True),
        sa.Column("target", sa.Text(), nullable=True),
        sa.Column("cause", sa.Text(), nullable=True),
        sa.Column("ber_pct", sa.Float(), nullable=True),
        sa.Column("loss_pct", sa.Float(), nullable=True),
        sa.Column("rssi_dbm", sa.Float(), nullable=True),
        sa.Column("doubtful", sa.Boolean(), nullable=False),
        sa.Column("whole", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("over", schema=None) as batch_op:
        batch_op.create_index("over_start", ["start"], unique=False)

    op.create_table(
        "tally",
        sa.Column("hour", sa.BigInteger(), nullable=False),
        sa.Column("mode", sa.Text(), nullable=False),
        sa.Column("airtime_us", sa.BigInteger(), nullable=False),
        sa.Column("keyed_us", sa.BigInteger(), nullable=True),
        sa.Column("idle_hold_us", sa.BigInteger(), nullable=False),
        sa.Column("overs", sa.BigInteger(), nullable=False),
        sa.Column("timeouts", sa.BigInteger(), nullable=False),
        sa.Column("timeouts_estimated", sa.BigInteger(), nullable=False),
        sa.Column("near_timeouts", sa.BigInteger(), nullable=False),
        sa.Column("shut_outs", sa.BigInteger(), nullable=False),
        sa.Column("unfinished", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("hour", "mode"),
    )
    op.create_table(
        "timer_change",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("at", sa.BigInteger(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "unread_line",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("log_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("t", sa.BigInteger(), nullable=True),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("cut", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("unread_line", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_unread_line_log_id"), ["log_id"], unique=False)

    op.create_table(
        "file",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("log_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("path", sa.Text(), nullable=False),
        sa.Column("device", sa.BigInteger(), nullable=False),
        sa.Column("inode", sa.BigInteger(), nullable=False),
        sa.Column("offset", sa.BigInteger(), nullable=False),
        sa.Column("head_bytes", sa.BigInteger(), nullable=False),
        sa.Column("head_hash", sa.Text(), nullable=False),
        sa.Column("tail_bytes", sa.BigInteger(), nullable=False),
        sa.Column("tail_hash", sa.Text(), nullable=False),
        sa.Column("skipping", sa.Boolean(), nullable=False),
        sa.Column("header", sa.Text(), nullable=True),
        sa.Column("lines", sa.BigInteger(), nullable=False),
        sa.Column("apart", sa.Boolean(), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=True),
        sa.Column("mtime_ns", sa.BigInteger(), nullable=True),
        sa.Column("trouble", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["log_id"],
            ["log.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("file", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_file_log_id"), ["log_id"], unique=False)

    op.create_table(
        "notice",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("incident_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=True),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("made", sa.BigInteger(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["incident_id"],
            ["incident.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("notice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_notice_incident_id"), ["incident_id"], unique=False)

    op.create_table(
        "delivery",
        sa.Column("id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("notice_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("channel", sa.Text(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("tries", sa.BigInteger(), nullable=False),
        sa.Column("next", sa.BigInteger(), nullable=False),
        sa.Column("sent", sa.BigInteger(), nullable=True),
        sa.Column("trouble", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["notice_id"],
            ["notice.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("delivery", schema=None) as batch_op:
        batch_op.create_index("delivery_state", ["state", "next"], unique=False)
        batch_op.create_index(batch_op.f("ix_delivery_notice_id"), ["notice_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("delivery", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_delivery_notice_id"))
        batch_op.drop_index("delivery_state")

    op.drop_table("delivery")
    with op.batch_alter_table("notice", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_notice_incident_id"))

    op.drop_table("notice")
    with op.batch_alter_table("file", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_file_log_id"))

    op.drop_table("file")
    with op.batch_alter_table("unread_line", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_unread_line_log_id"))

    op.drop_table("unread_line")
    op.drop_table("timer_change")
    op.drop_table("tally")
    with op.batch_alter_table("over", schema=None) as batch_op:
        batch_op.drop_index("over_start")

    op.drop_table("over")
    with op.batch_alter_table("open_over", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_open_over_log_id"))

    op.drop_table("open_over")
    op.drop_table("log")
    with op.batch_alter_table("line_hour", schema=None) as batch_op:
        batch_op.drop_index("line_hour_hour")

    op.drop_table("line_hour")
    op.drop_table("incident")
    op.drop_table("fact")
    with op.batch_alter_table("event", schema=None) as batch_op:
        batch_op.drop_index("event_t")

    op.drop_table("event")
