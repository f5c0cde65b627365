"""The tables. Instants are microseconds since 1970 UTC (BigInteger); words are those of shared.events."""

import sqlalchemy as sa

metadata = sa.MetaData()
Us = sa.BigInteger
Id = sa.BigInteger().with_variant(sa.Integer, "sqlite")  # so that SQLite uses its row id

#: One row a log: a file with its rotated siblings, or the dated files of one name (server.intake.log_names). The name
#: follows the log when its folder moves; what belongs to it is known by `id`.
log = sa.Table(
    "log",
    metadata,
    sa.Column("id", Id, primary_key=True),
    sa.Column("name", sa.Text, nullable=False, unique=True),
    sa.Column("dialect", sa.Text, nullable=False),
    sa.Column("carry_us", Us),  # parsers.reading.Carry.last_us
    sa.Column("cursor", sa.Text),  # of a journal: the last entry that was read
    sa.Column("first_us", Us),
    sa.Column("last_us", Us),
    sa.Column("lines", Us, nullable=False, default=0),
    sa.Column("understood", Us, nullable=False, default=0),
    sa.Column("ignored", Us, nullable=False, default=0),
    sa.Column("unread", Us, nullable=False, default=0),
    sa.Column(
        "carries", sa.Boolean, nullable=False, default=False, server_default=sa.false()
    ),  # has told an over, an attempt or a page
)

#: The check-point: one row for each content that was read, wherever it lies now.
file = sa.Table(
    "file",
    metadata,
    sa.Column("id", Id, primary_key=True),
    sa.Column("log_id", Id, sa.ForeignKey("log.id"), nullable=False, index=True),
    sa.Column("path", sa.Text, nullable=False),
    sa.Column("device", Us, nullable=False),
    sa.Column("inode", Us, nullable=False),
    sa.Column("offset", Us, nullable=False),  # bytes consumed, after decompression; always at a line's end
    sa.Column("head_bytes", Us, nullable=False),  # how many of the first bytes head_hash covers
    sa.Column("head_hash", sa.Text, nullable=False),
    sa.Column("tail_bytes", Us, nullable=False),  # how many of the bytes before offset tail_hash covers
    sa.Column("tail_hash", sa.Text, nullable=False),
    sa.Column("rungs", sa.LargeBinary),  # server.intake.rungs; none where an older version read it
    sa.Column("own_bytes", Us),  # the first line that was understood ended here: no other log's file begins so
    sa.Column("skipping", sa.Boolean, nullable=False, default=False),  # inside a line too long to hold
    sa.Column("header", sa.Text),  # JSON list: column names of a csv log
    sa.Column("lines", Us, nullable=False, default=0),
    sa.Column("understood", Us),  # of the lines, where it is known; an older version kept them by log only
    sa.Column("ignored", Us),
    sa.Column("unread", Us),
    sa.Column(
        "apart", sa.Boolean, nullable=False, default=False
    ),  # found after newer ones were read: its overs pair by themselves
    sa.Column("size", Us),  # size and mtime_ns of the file when it was read to its end, null before
    sa.Column("mtime_ns", Us),
    sa.Column("trouble", sa.Text),  # a sentence, where the file could not be read to its end
)

#: With what the lines of a file were read: `how` is the dialect's name, zone and meaning
#: (parsers.reading.Reader.meaning), '' where it is unknown.
read_with = sa.Table(
    "read_with",
    metadata,
    sa.Column("file_id", Id, primary_key=True),
    sa.Column("how", sa.Text, primary_key=True),
    sa.Column("lines", Us, nullable=False),
)

#: Files that wait: so far they hold nothing that another one does not begin with.
waiting_file = sa.Table(
    "waiting_file",
    metadata,
    sa.Column("path", sa.Text, primary_key=True),
    sa.Column("log_name", sa.Text, nullable=False),
    sa.Column("says", sa.Text, nullable=False),
)

#: Finished and unfinished overs. Unfinished ones have no `end`; `until` is the next event on their key, if there was
#: one.
over = sa.Table(
    "over",
    metadata,
    sa.Column("id", Id, primary_key=True),
    sa.Column("log_id", Id, nullable=False),
    sa.Column("start", Us, nullable=False),
    sa.Column("end", Us),
    sa.Column("until", Us),  # of an unfinished one the next event on its key; else its end line, where that came later
    sa.Column("mode", sa.Text),
    sa.Column("slot", sa.SmallInteger),
    sa.Column("side", sa.Text),
    sa.Column("station", sa.Text),  # identity, see shared.identity
    sa.Column("target", sa.Text),
    sa.Column("cause", sa.Text),
    sa.Column("ber_pct", sa.Float),
    sa.Column("loss_pct", sa.Float),
    sa.Column("rssi_dbm", sa.Float),
    sa.Column("doubtful", sa.Boolean, nullable=False, default=False),
    sa.Column("whole", sa.Boolean, nullable=False, default=False),  # written at its end only: nothing told of it before
    sa.Column("session", sa.Text),  # of one that was paired, or waits for its end
    sa.Column(
        "file_id", Id
    ),  # of the line that made the row; null where an older version, or lines of several files, made it
    sa.Column("began_id", Id),  # of its start line, where that is another file
    sa.Index("over_start", "start"),
    # Unfinished overs are few and may have begun long before: this finds those that reach into a stretch.
    sa.Index(
        "over_until", "until", sqlite_where=sa.text("until IS NOT NULL"), postgresql_where=sa.text("until IS NOT NULL")
    ),
)

#: Overs that have begun and not ended yet, as event rows, so that a restart closes them.
open_over = sa.Table(
    "open_over",
    metadata,
    sa.Column("id", Id, primary_key=True),
    sa.Column("log_id", Id, nullable=False, index=True),
    sa.Column("file_id", Id),  # of an over in a file that stands apart
    sa.Column("began_id", Id),  # of its start line
    sa.Column("start", Us, nullable=False),
    sa.Column("mode", sa.Text),
    sa.Column("slot", sa.SmallInteger),
    sa.Column("side", sa.Text),
    sa.Column("station", sa.Text),
    sa.Column("target", sa.Text),
    sa.Column("ber_pct", sa.Float),
    sa.Column("loss_pct", sa.Float),
    sa.Column("rssi_dbm", sa.Float),
    sa.Column("session", sa.Text),
    sa.Column("until", Us),  # another start on its key: only an end of its session can close it after that
)

#: Everything else that happened: refused, carrier-up/-down, link-up/-down, page, host-start/-stop, and `orphan`
#: (an end of an over without duration or start).
event = sa.Table(
    "event",
    metadata,
    sa.Column("id", Id, primary_key=True),
    sa.Column("log_id", Id, nullable=False),
    sa.Column("t", Us, nullable=False),
    sa.Column("event", sa.Text, nullable=False),
    sa.Column("mode", sa.Text),
    sa.Column("slot", sa.SmallInteger),
    sa.Column("side", sa.Text),
    sa.Column("station", sa.Text),
    sa.Column("target", sa.Text),
    sa.Column("network", sa.Text),
    sa.Column("reason", sa.Text),
    sa.Column("seconds", sa.Float),
    sa.Column("rssi_dbm", sa.Float),
    sa.Column("session", sa.Text),  # of an orphan
    sa.Column("bit_rate", Us),  # of a page: bits a second
    sa.Column("code_words", Us),
    sa.Column("characters", Us),
    sa.Column("file_id", Id),
    sa.Index("event_t", "event", "t"),
)

#: When lines were written, file by file and hour by hour: each blob is uint32 little-endian microseconds after `hour`,
#: one entry a line.
line_hour = sa.Table(
    "line_hour",
    metadata,
    sa.Column("log_id", Id, primary_key=True),
    sa.Column("hour", Us, primary_key=True),
    sa.Column("file_id", Id, primary_key=True),  # 0 where an older version read it
    sa.Column("understood", sa.LargeBinary, nullable=False),
    sa.Column("ignored", sa.LargeBinary, nullable=False),
    sa.Column("unread", sa.LargeBinary, nullable=False),
    sa.Index("line_hour_hour", "hour"),
)

# : When lines came that have no stamp of their own, by the minute (server.store.arrivals). In `line_hour` they stand at
# the
#: stamp before them.
arrival = sa.Table(
    "arrival",
    metadata,
    sa.Column("log_id", Us, primary_key=True, autoincrement=False),
    sa.Column("at", Us, primary_key=True, autoincrement=False),
    sa.Column("stamp", Us, primary_key=True, autoincrement=False),  # of the line before them, 0 where there was none
    sa.Column("file_id", Us, primary_key=True, autoincrement=False),
    sa.Column("lines", Us, nullable=False),
    sa.Column("unread", Us, nullable=False),  # of the lines
)

#: The raw text of lines that no shape matched, kept to be shown and taught; the oldest go when there are too many.
unread_line = sa.Table(
    "unread_line",
    metadata,
    sa.Column("id", Id, primary_key=True),
    sa.Column("log_id", Id, nullable=False, index=True),
    sa.Column("t", Us),
    sa.Column("text", sa.Text, nullable=False),
    sa.Column("cut", sa.Boolean, nullable=False, default=False),  # the line was longer than what is kept
    sa.Column("file_id", Id),
)

#: Additive figures by UTC hour and mode, always recomputable from the tables above; an hour whose row '' is missing is
#: not tallied.
tally = sa.Table(
    "tally",
    metadata,
    sa.Column("hour", Us, primary_key=True),
    sa.Column("mode", sa.Text, primary_key=True),  # '' is the channel
    sa.Column("airtime_us", Us, nullable=False),
    sa.Column("keyed_us", Us),  # channel only
    sa.Column("idle_hold_us", Us, nullable=False),
    sa.Column("held_us", Us, nullable=False),
    sa.Column("overs", Us, nullable=False),
    sa.Column("timeouts", Us, nullable=False),
    sa.Column("timeouts_estimated", Us, nullable=False),
    sa.Column("near_timeouts", Us, nullable=False),
    sa.Column("shut_outs", Us, nullable=False),  # suffered
    sa.Column("unfinished", Us, nullable=False),
    sa.Column("seen_us", Us),  # channel only: seen time
    sa.Column("duty_6_us", Us),  # channel only: the most that was keyed of any 6 minutes that end in the hour
    sa.Column("duty_30_us", Us),
    sa.Column("duty_60_us", Us),
)

#: Small facts: `version` grows with every committed batch, `settings` is the fingerprint the tallies were made with.
fact = sa.Table(
    "fact",
    metadata,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("value", sa.Text, nullable=False),
)

#: What the rules of server.alerts raised. `(rule, subject, raised)` is its identity, so that nothing is raised twice.
incident = sa.Table(
    "incident",
    metadata,
    sa.Column("id", Id, primary_key=True),
    sa.Column("rule", sa.Text, nullable=False),
    sa.Column("subject", sa.Text, nullable=False),
    sa.Column("raised", Us, nullable=False),
    sa.Column("cleared", Us),
    sa.Column("urgent", sa.Boolean, nullable=False),
    sa.Column("says", sa.Text, nullable=False),
    sa.Column("acknowledged", Us),
    sa.Column("told", Us),  # when its first notice was put into the outbox
    sa.Column("told_end", sa.Boolean, nullable=False, default=False),  # whether its clearing needs no notice any more
    sa.Column("reminders", Us, nullable=False, default=0),
    sa.Column("began", Us),  # when what it is about began, where that was before it was raised
    sa.Column("next", Us),  # when it speaks next: a first notice that was put off, or a reminder
    sa.UniqueConstraint("rule", "subject", "raised", name="incident_identity"),
)

#: The outbox: what is to be said. A notice commits together with what it is about.
notice = sa.Table(
    "notice",
    metadata,
    sa.Column("id", Id, primary_key=True),
    sa.Column("incident_id", Id, sa.ForeignKey("incident.id"), index=True),  # none: a digest of several
    sa.Column("kind", sa.Text, nullable=False),  # raised, reminder, cleared, digest, week
    sa.Column("made", Us, nullable=False),
    sa.Column("title", sa.Text, nullable=False),
    sa.Column("body", sa.Text, nullable=False),
)

#: One row a notice and channel; `state` is waiting, sending, sent or failed.
delivery = sa.Table(
    "delivery",
    metadata,
    sa.Column("id", Id, primary_key=True),
    sa.Column("notice_id", Id, sa.ForeignKey("notice.id"), nullable=False, index=True),
    sa.Column("channel", sa.Text, nullable=False),  # fingerprint of its URL: the URL itself may hold a password
    sa.Column("label", sa.Text, nullable=False),  # the URL with what is secret hidden
    sa.Column("state", sa.Text, nullable=False),
    sa.Column("tries", Us, nullable=False, default=0),
    sa.Column("next", Us, nullable=False),  # not before
    sa.Column("sent", Us),
    sa.Column("trouble", sa.Text),
    sa.Index("delivery_state", "state", "next"),
)

#: Changes of the repeater's timers that the keeper has confirmed.
timer_change = sa.Table(
    "timer_change",
    metadata,
    sa.Column("id", Id, primary_key=True),
    sa.Column("at", Us, nullable=False),
    sa.Column("note", sa.Text, nullable=False),  # what was changed, in the keeper's words
)

#: What the keeper noted of the station: what was done there, and when.
note = sa.Table(
    "note",
    metadata,
    sa.Column("id", Id, primary_key=True),
    sa.Column("at", Us, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),  # server.store.notes.KINDS
    sa.Column("text", sa.Text, nullable=False),
    sa.Column("for_committee", sa.Boolean, nullable=False),
)
