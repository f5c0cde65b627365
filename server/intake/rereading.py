"""Lines that were unread and that the dialect, grown since, understands: read again from what was kept of them, exactly
once.

All of it is one transaction: what is read leaves the kept lines, its events are paired with what of its log was left
loose, and the counts move from unread to where they belong. Loose are starts whose end never came (they are stored as
unfinished overs, or still open) and ends that are orphans: they become events again, take their place in time among the
new ones, and are paired as if all had been read at once. Overs that were paired already stand between them as marks
that they can't reach over. A new start or end at the very edge of a stored over (its other line was understood all
along) completes that over and makes no second one."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import sqlalchemy as sa

from parsers.dialect import dialect_from_text, reader
from parsers.reading import Carry, Reader, Reading
from server.intake.ingest import EVENT_ROW
from server.intake.pairing import OPEN_SCHEMA, Paired, carries_overs, longest, nothing_open, others_touch, pair
from server.store import schema
from server.store.arrivals import take_back
from server.store.engine import writing
from server.store.facts import keep_longest, raise_version
from server.store.frames import insert_frame
from server.store.lines import add_line_hours
from server.store.logs import count_read_with, last_header, note_carrying
from server.store.tallies import forget_tallies
from shared.columns import EVENT_SCHEMA
from shared.events import IGNORED, UNDERSTOOD, UNREAD
from shared.identity import identity
from shared.zones import HOUR, SECOND

MARK = "\x01"  #: the station of a stand-in for an over that was paired before
EDGE_US = 2 * SECOND  #: a line so near the edge of a stored over belongs to it
FILLED = ("station", "target", "cause", "ber_pct", "loss_pct", "rssi_dbm")


@dataclass(frozen=True)
class Reread:
    """What came of reading kept lines again."""

    lines: int = 0
    understood: int = 0
    ignored: int = 0
    overs: int = 0


def reread(engine: sa.Engine, log_name: str, dialect_text: str, path: Path, before: str | None = None) -> Reread:
    """Read the kept unread lines of a log with its grown dialect; `before` is the Reader.meaning that it grew from.
    Raises DialectError, StoreError; lines that are still unread stay.
    """
    reads = reader(dialect_from_text(dialect_text, path))
    with writing(engine) as connection:
        log = connection.execute(sa.select(schema.log).where(schema.log.c.name == log_name)).first()
        if log is None:
            return Reread()
        table = schema.unread_line
        kept = connection.execute(
            sa.select(table.c.id, table.c.t.label("at"), table.c.text, table.c.file_id)
            .where(table.c.log_id == log.id, ~table.c.cut)
            .order_by(table.c.id)
        ).all()
        if not kept:
            return Reread()
        read = _read(reads, [row.text for row in kept], [row.at for row in kept], last_header(connection, log.id))
        taken = np.flatnonzero(read.verdicts != UNREAD).tolist()
        if not len(taken):
            return Reread()
        raise_version(connection)
        ids = [kept[i].id for i in taken]
        for piece in range(0, len(ids), 500):
            connection.execute(sa.delete(table).where(table.c.id.in_(ids[piece : piece + 500])))
        overs = _pair_again(connection, log.id, read.events)
        for file_id in {kept[i].file_id for i in taken}:
            ours = [i for i in taken if kept[i].file_id == file_id]
            moves = [
                (kept[i].at, int(read.stamps[i]) if read.stamped[i] else None, int(read.verdicts[i])) for i in ours
            ]
            _move_hours(connection, log.id, file_id or 0, moves)
            _move_counts(connection, file_id, read.verdicts[ours])
        if before is not None:
            _were_read_with(connection, log.id, before, reads.meaning)
        counts = np.bincount(read.verdicts[taken], minlength=3)
        understood, ignored = int(counts[UNDERSTOOD]), int(counts[IGNORED])
        values = {"understood": schema.log.c.understood + understood, "ignored": schema.log.c.ignored + ignored}
        values["unread"] = schema.log.c.unread - len(taken)
        connection.execute(sa.update(schema.log).where(schema.log.c.id == log.id).values(**values))
    return Reread(len(taken), understood, ignored, overs)


def _read(reads: Reader, texts: list[str], stamps: list[int | None], header: tuple[str, ...] | None) -> Reading:
    """The lines, each near the instant at which it was written: that settles a year that its stamp lacks."""
    known = [t for t in stamps if t is not None]
    first = known[0] if known else 0
    near = np.array([t or 0 for t in stamps], dtype=np.int64)
    return reads.read(
        pl.Series(texts, dtype=pl.String), Carry(first or None, header, near_us=near), max(known, default=first)
    )


def _pair_again(connection: sa.Connection, log_id: int, events: pl.DataFrame) -> int:
    """Pairs recovered events with what was loose in their log. Returns how many finished overs came of it."""
    talk = events.filter(pl.col("event").is_in(["over-start", "over-end", "over"]))
    if not len(talk):
        _store(connection, log_id, pair(nothing_open(), events), [])
        return 0
    low, high = int(talk["t"].min()) - HOUR, int(talk["t"].max()) + HOUR  # type: ignore[arg-type]
    over, table = schema.over, schema.open_over
    near = connection.execute(
        sa.select(over)
        .where(over.c.log_id == log_id, over.c.start.between(low - 24 * HOUR, high))
        .order_by(over.c.start)
    ).all()
    finished = [row for row in near if row.end is not None and row.end >= low]
    unfinished = [row for row in near if row.end is None and row.start >= low]
    still = connection.execute(
        sa.select(table).where(table.c.log_id == log_id, table.c.file_id.is_(None), table.c.start.between(low, high))
    ).all()
    orphans = connection.execute(
        sa.select(schema.event, schema.event.c.t.label("at")).where(
            schema.event.c.log_id == log_id, schema.event.c.event == "orphan", schema.event.c.t.between(low, high)
        )
    ).all()
    restarts = connection.execute(
        sa.select(schema.event.c.t).where(
            schema.event.c.log_id == log_id, schema.event.c.event == "host-start", schema.event.c.t.between(low, high)
        )
    ).scalars()
    rows: list[dict[str, Any]] = []
    fields = ("mode", "slot", "side", "station", "target", "ber_pct", "loss_pct", "rssi_dbm", "session")
    for row in [*unfinished, *still]:
        rows.append({"t": row.start, "event": "over-start", **{name: getattr(row, name) for name in fields}})
    for row in orphans:
        rows.append(
            {
                "t": row.at,
                "event": "over-end",
                **{
                    name: getattr(row, name)
                    for name in ("mode", "slot", "side", "station", "target", "rssi_dbm", "session")
                },
            }
        )
    for row in finished:
        mark = {"mode": row.mode, "slot": row.slot, "side": row.side, "station": MARK}
        rows += [{"t": row.start, "event": "over-start", **mark}, {"t": row.start, "event": "over-end", **mark}]
    rows += [{"t": t, "event": "host-start", "station": MARK} for t in restarts]
    completed: set[tuple[int, str]] = set()
    new = [row for row in events.drop("line").to_dicts() if not _completes(connection, finished, row, completed)]
    order = {"over-end": 0, "host-start": 1}
    every = sorted(
        [*rows, *new], key=lambda row: (row["t"], order.get(str(row["event"]), 2) if row.get("station") != MARK else 1)
    )
    frame = pl.DataFrame([{"line": n, **row} for n, row in enumerate(every)], schema=EVENT_SCHEMA)
    paired = pair(nothing_open(), frame)
    for row in unfinished:
        connection.execute(sa.delete(over).where(over.c.id == row.id))
    for row in still:
        connection.execute(sa.delete(table).where(table.c.id == row.id))
    for row in orphans:
        connection.execute(sa.delete(schema.event).where(schema.event.c.id == row.id))
    # Starts that nothing closed and that were unfinished before are so again: what ended their time lies outside of
    # what was looked at.
    untils = {(row.start, row.mode, row.slot, row.side): row.until for row in unfinished}
    return _store(connection, log_id, paired, [one for one in untils.items()])


def _store(connection: sa.Connection, log_id: int, paired, untils: list[tuple[tuple[Any, ...], Any]]) -> int:  # type: ignore[no-untyped-def]
    """Stores what pairing gave, without the stand-ins."""
    overs = paired.overs.filter(pl.col("station").is_null() | (pl.col("station") != MARK))
    opened = paired.still_open.filter(pl.col("station").is_null() | (pl.col("station") != MARK))
    others = (
        paired.others.filter(pl.col("station").is_null() | (pl.col("station") != MARK))
        if paired.others.height
        else paired.others
    )
    before = dict(untils)
    if before and opened.height:
        was = [(key in before) for key in opened.select("start", "mode", "slot", "side").rows()]
        back = opened.filter(pl.Series(was))
        opened = opened.filter(~pl.Series(was))
        for row in back.to_dicts():
            until = before[(row["start"], row["mode"], row["slot"], row["side"])]
            connection.execute(
                sa.insert(schema.over).values(
                    log_id=log_id, end=None, doubtful=False, cause=None, **{**row, "until": until}
                )
            )
    if carries_overs(paired):
        note_carrying(connection, log_id)
    insert_frame(connection, schema.open_over, opened.select(list(OPEN_SCHEMA)), log_id=log_id, file_id=None)
    insert_frame(connection, schema.over, overs, log_id=log_id)
    if others.height:
        insert_frame(connection, schema.event, others.select(EVENT_ROW), log_id=log_id)
    keep_longest(connection, longest(Paired(overs, opened, others)))
    instants = [
        c for c in (overs["start"], overs["end"], *(others_touch(others) if others.height else [])) if c.count()
    ]
    if instants:
        forget_tallies(connection, min(c.min() for c in instants), max(c.max() for c in instants))
    return int(overs.filter(pl.col("end").is_not_null()).height)


def _completes(
    connection: sa.Connection, finished: list[Any], row: dict[str, Any], completed: set[tuple[int, str]]
) -> bool:
    """Whether a recovered start or end belongs to a stored over; if so the over is given what it lacked."""
    if row["event"] not in ("over-start", "over-end"):
        return False
    edge = "start" if row["event"] == "over-start" else "end"
    near = [
        over
        for over in finished
        if over.mode == row["mode"] and over.slot == row["slot"] and (row["side"] is None or over.side in (None, row["side"]))
        and abs(getattr(over, edge) - row["t"]) <= EDGE_US and (over.id, edge) not in completed
    ]  # fmt: skip
    for over in sorted(near, key=lambda over: abs(getattr(over, edge) - row["t"]))[:1]:
        completed.add((over.id, edge))
        fills = {name: row[name] for name in FILLED if row.get(name) is not None and getattr(over, name) is None}
        if "station" in fills:
            fills["station"] = identity(fills["station"])
        if (
            edge == "start" and over.start != row["t"]
        ):  # where the host gives a duration, the over lasts that long from its start
            fills |= {"start": row["t"], "end": row["t"] + (over.end - over.start)}
        if fills:
            connection.execute(sa.update(schema.over).where(schema.over.c.id == over.id).values(**fills))
            forget_tallies(connection, min(over.start, row["t"]), max(over.end, row["t"]))
        return True
    return False


def _move_counts(connection: sa.Connection, file_id: int | None, verdicts: np.ndarray) -> None:
    """Moves lines of a file from the unread ones to what they are now."""
    file = schema.file
    understood, ignored = int((verdicts == UNDERSTOOD).sum()), int((verdicts == IGNORED).sum())
    values = {
        "understood": file.c.understood + understood,
        "ignored": file.c.ignored + ignored,
        "unread": file.c.unread - len(verdicts),
    }
    connection.execute(sa.update(file).where(file.c.id == file_id).values(**values))


def _were_read_with(connection: sa.Connection, log_id: int, before: str, now: str) -> None:
    """The dialect grew by shapes for lines that it left unread, and those were read again: what it reads otherwise it
    reads as before.
    """
    if now == before:
        return
    table, file = schema.read_with, schema.file
    ours = sa.select(file.c.id).where(file.c.log_id == log_id)
    rows = connection.execute(sa.select(table).where(table.c.file_id.in_(ours), table.c.how == before)).all()
    connection.execute(sa.delete(table).where(table.c.file_id.in_(ours), table.c.how == before))
    for row in rows:
        count_read_with(connection, row.file_id, now, row.lines)


def _move_hours(
    connection: sa.Connection, log_id: int, file_id: int, moves: list[tuple[int | None, int | None, int]]
) -> None:
    """Moves lines from the unread ones of their hours to the others: (instant as it was kept, instant now, verdict)
    each.
    """
    table = schema.line_hour
    ours = (table.c.log_id == log_id) & (table.c.file_id == file_id)
    gone: dict[int, list[int]] = {}
    for t, _, _ in moves:
        if t is not None:
            gone.setdefault(t // HOUR * HOUR, []).append(t % HOUR)
    for hour, offsets in gone.items():
        row = connection.execute(sa.select(table).where(ours, table.c.hour == hour)).first()
        if row is None:
            continue
        left = np.frombuffer(row.unread, dtype="<u4").tolist()
        for offset in offsets:
            if offset in left:
                left.remove(offset)
        unread = np.array(left, dtype="<u4").tobytes()
        connection.execute(sa.update(table).where(ours, table.c.hour == hour).values(unread=unread))
    take_back(connection, log_id, file_id, [(t, now is not None) for t, now, _ in moves])
    now = [(t if now is None else now, verdict) for t, now, verdict in moves if t is not None or now is not None]
    stamps = np.array([t for t, _ in now], dtype=np.int64)
    verdicts = np.array([verdict for _, verdict in now], dtype=np.uint8)
    add_line_hours(connection, log_id, file_id, stamps, np.ones(len(stamps), dtype=np.bool_), verdicts)
