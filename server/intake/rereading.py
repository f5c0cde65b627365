"""Lines that were unread and that the dialect, grown since, understands: read again from what was kept of them, exactly
once.

All of it is one transaction: what is read leaves the kept lines, its events are paired with what of its log was left
loose, and the counts move from unread to where they belong. Loose are starts whose end never came (they are stored as
unfinished overs, or still open) and ends that are orphans: they become events again, take their place in time among the
new ones, and are paired as if all had been read at once. Overs that were paired already stand between them as marks
that they can't reach over. A new start or end at the very edge of a stored over (its other line was understood all
along) completes that over and makes no second one."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from parsers.dialect import dialect_from_text, reader
from parsers.reading import Carry, Reader, Reading
from server.intake.pairing import OPEN_SCHEMA, Paired, carries_overs, longest, nothing_open, others_touch, pair
from server.store.arrivals import take_back
from server.store.engine import Connection, Store, writing
from server.store.facts import keep_longest, raise_version
from server.store.files import keep_file, last_header, now_read_with
from server.store.lines import add_line_hours, drop_unread, take_unread_stamps, whole_unread
from server.store.logs import count_lines, log_named, note_carrying
from server.store.loose import Loose, fill_over, loose_in, put_back_unfinished, take_out
from server.store.paired import add_events, add_open_starts, add_overs
from server.store.tallies import forget_tallies
from shared.columns import EVENT_SCHEMA
from shared.events import IGNORED, UNDERSTOOD, UNREAD
from shared.identity import identity
from shared.zones import HOUR, SECOND

MARK = "\x01"  #: the station of a stand-in for an over that was paired before
EDGE_US = 2 * SECOND  #: a line so near the edge of a stored over belongs to it
FILLED = ("station", "target", "cause", "ber_pct", "loss_pct", "rssi_dbm")
OF_STARTS = ("mode", "slot", "side", "station", "target", "ber_pct", "loss_pct", "rssi_dbm", "session")
OF_ENDS = ("mode", "slot", "side", "station", "target", "rssi_dbm", "session")


@dataclass(frozen=True)
class Reread:
    """What came of reading kept lines again."""

    lines: int = 0
    understood: int = 0
    ignored: int = 0
    overs: int = 0


def reread(engine: Store, log_name: str, dialect_text: str, path: Path, before: str | None = None) -> Reread:
    """Read the kept unread lines of a log with its grown dialect; `before` is the Reader.meaning that it grew from.
    Raises DialectError, StoreError; lines that are still unread stay.
    """
    reads = reader(dialect_from_text(dialect_text, path))
    with writing(engine) as connection:
        log = log_named(connection, log_name)
        lines = whole_unread(connection, log.id) if log is not None else []
        if log is None or not lines:
            return Reread()
        read = _read(
            reads, [line.text for line in lines], [line.at_us for line in lines], last_header(connection, log.id)
        )
        taken = np.flatnonzero(read.verdicts != UNREAD).tolist()
        if not taken:
            return Reread()
        raise_version(connection)
        drop_unread(connection, [lines[i].id for i in taken])
        overs = _pair_again(connection, log.id, read.events)
        _move_lines(connection, log.id, lines, read, taken)
        if before is not None and before != reads.meaning:
            # The dialect grew by shapes for lines that it left unread: what it reads otherwise it reads as before.
            now_read_with(connection, log.id, before, reads.meaning)
        counts = np.bincount(read.verdicts[taken], minlength=3)
        understood, ignored = int(counts[UNDERSTOOD]), int(counts[IGNORED])
        count_lines(connection, log.id, {"understood": understood, "ignored": ignored, "unread": -len(taken)})
    return Reread(len(taken), understood, ignored, overs)


def _move_lines(connection: Connection, log_id: int, lines: Sequence[Any], read: Reading, taken: list[int]) -> None:
    """Counts the lines that were taken by what they are now, file by file."""
    by_file: dict[int | None, list[int]] = {}
    for i in taken:
        by_file.setdefault(lines[i].file_id, []).append(i)
    for file_id, rows in by_file.items():
        moves = [
            (lines[i].at_us, int(read.stamps[i]) if read.stamped[i] else None, int(read.verdicts[i])) for i in rows
        ]
        _move_hours(connection, log_id, file_id or 0, moves)
        _move_counts(connection, file_id, read.verdicts[rows])


def _read(reads: Reader, texts: list[str], stamps: list[int | None], header: tuple[str, ...] | None) -> Reading:
    """The lines, each near the instant at which it was written: that settles a year that its stamp lacks."""
    known = [t for t in stamps if t is not None]
    first = known[0] if known else 0
    near = np.array([t or 0 for t in stamps], dtype=np.int64)
    return reads.read(
        pl.Series(texts, dtype=pl.String), Carry(first or None, header, near_us=near), max(known, default=first)
    )


def _pair_again(connection: Connection, log_id: int, events: pl.DataFrame) -> int:
    """Pairs recovered events with what was loose in their log. Returns how many finished overs came of it."""
    talk = events.filter(pl.col("event").is_in(["over-start", "over-end", "over"]))
    if not len(talk):
        _store(connection, log_id, pair(nothing_open(), events), {})
        return 0
    low, high = int(talk["t"].min()) - HOUR, int(talk["t"].max()) + HOUR  # type: ignore[arg-type]
    loose = loose_in(connection, log_id, low, high)
    completed: set[tuple[int, str]] = set()
    new = [row for row in events.drop("line").to_dicts() if not _completes(connection, loose.finished, row, completed)]
    every = sorted([*_events_again(loose), *new], key=_order)
    frame = pl.DataFrame([{"line": n, **row} for n, row in enumerate(every)], schema=EVENT_SCHEMA)
    paired = pair(nothing_open(), frame)
    take_out(connection, loose)
    # Starts that nothing closed and that were unfinished before are so again: what ended their time lies outside of
    # what was looked at.
    untils = {(row.start, row.mode, row.slot, row.side): row.until for row in loose.unfinished}
    return _store(connection, log_id, paired, untils)


def _events_again(loose: Loose) -> Iterator[dict[str, Any]]:
    """What is loose in a log as the events that it was, and marks for what was paired."""
    for row in [*loose.unfinished, *loose.still_open]:
        yield {"t": row.start, "event": "over-start", **{name: getattr(row, name) for name in OF_STARTS}}
    for row in loose.orphans:
        yield {"t": row.at, "event": "over-end", **{name: getattr(row, name) for name in OF_ENDS}}
    for row in loose.finished:
        mark = {"mode": row.mode, "slot": row.slot, "side": row.side, "station": MARK}
        yield {"t": row.start, "event": "over-start", **mark}
        yield {"t": row.start, "event": "over-end", **mark}
    for t in loose.restarts:
        yield {"t": t, "event": "host-start", "station": MARK}


def _order(row: Mapping[str, Any]) -> tuple[int, int]:
    """Of events at one instant, ends come first and starts last, marks in between."""
    if row.get("station") == MARK:
        return row["t"], 1
    return row["t"], {"over-end": 0, "host-start": 1}.get(row["event"], 2)


def _unmarked(rows: pl.DataFrame) -> pl.DataFrame:
    """Without the stand-ins."""
    return rows.filter(pl.col("station").is_null() | (pl.col("station") != MARK)) if rows.height else rows


def _store(connection: Connection, log_id: int, paired: Paired, untils: Mapping[tuple[Any, ...], Any]) -> int:
    """Stores what pairing gave. Returns how many overs of it are finished."""
    overs, others = _unmarked(paired.overs), _unmarked(paired.others)
    opened = _unfinished_again(connection, log_id, _unmarked(paired.still_open), untils)
    if carries_overs(paired):
        note_carrying(connection, log_id)
    add_open_starts(connection, log_id, None, opened.select(list(OPEN_SCHEMA)))
    add_overs(connection, log_id, None, overs)
    add_events(connection, log_id, None, others)
    keep_longest(connection, longest(Paired(overs, opened, others)))
    instants = pl.concat([overs["start"], overs["end"], *(others_touch(others) if others.height else [])]).drop_nulls()
    if len(instants):
        forget_tallies(connection, instants.min(), instants.max())  # type: ignore[arg-type]
    return overs["end"].count()


def _unfinished_again(
    connection: Connection, log_id: int, opened: pl.DataFrame, untils: Mapping[tuple[Any, ...], Any]
) -> pl.DataFrame:
    """Stores the starts that were unfinished before; the others are open."""
    keys = opened.select("start", "mode", "slot", "side").rows()
    for row, key in zip(opened.to_dicts(), keys, strict=True):
        if key in untils:
            put_back_unfinished(connection, log_id, {**row, "until": untils[key]})
    return opened.filter(pl.Series([key not in untils for key in keys], dtype=pl.Boolean))


def _completes(
    connection: Connection, finished: Sequence[Any], row: dict[str, Any], completed: set[tuple[int, str]]
) -> bool:
    """Whether a recovered start or end belongs to a stored over; if so the over is given what it lacked."""
    if row["event"] not in ("over-start", "over-end"):
        return False
    edge = "start" if row["event"] == "over-start" else "end"
    near = [over for over in finished if _is_near(over, edge, row) and (over.id, edge) not in completed]
    if not near:
        return False
    over = min(near, key=lambda over: abs(getattr(over, edge) - row["t"]))
    completed.add((over.id, edge))
    if fills := _fills(over, edge, row):
        fill_over(connection, over.id, fills)
        forget_tallies(connection, min(over.start, row["t"]), max(over.end, row["t"]))
    return True


def _is_near(over: Any, edge: str, row: Mapping[str, Any]) -> bool:
    """Whether a line may be that edge of a stored over."""
    same_key = (over.mode, over.slot) == (row["mode"], row["slot"])
    same_side = row["side"] is None or over.side in (None, row["side"])
    return same_key and same_side and abs(getattr(over, edge) - row["t"]) <= EDGE_US


def _fills(over: Any, edge: str, row: Mapping[str, Any]) -> dict[str, Any]:
    """What a line gives a stored over that it lacked."""
    fills = {name: row[name] for name in FILLED if row.get(name) is not None and getattr(over, name) is None}
    if "station" in fills:
        fills["station"] = identity(fills["station"])
    if edge == "start" and over.start != row["t"]:
        # Where the host gives a duration, the over lasts that long from its start.
        written, ended = over.until or over.end, row["t"] + (over.end - over.start)
        fills |= {"start": row["t"], "end": ended, "until": written if written > ended else None}
    return fills


def _move_counts(connection: Connection, file_id: int | None, verdicts: np.ndarray) -> None:
    """Moves lines of a file from the unread ones to what they are now."""
    understood, ignored = int((verdicts == UNDERSTOOD).sum()), int((verdicts == IGNORED).sum())
    keep_file(connection, file_id, {}, {"understood": understood, "ignored": ignored, "unread": -len(verdicts)})


def _by_hour(instants: Iterable[int | None]) -> dict[int, list[int]]:
    """By hour the offsets of instants in it."""
    hours: dict[int, list[int]] = {}
    for t in instants:
        if t is not None:
            hours.setdefault(t // HOUR * HOUR, []).append(t % HOUR)
    return hours


def _move_hours(
    connection: Connection, log_id: int, file_id: int, moves: list[tuple[int | None, int | None, int]]
) -> None:
    """Moves lines from the unread ones of their hours to the others: (instant as it was kept, instant now, verdict)
    each.
    """
    for hour, offsets in _by_hour(t for t, _, _ in moves).items():
        take_unread_stamps(connection, log_id, file_id, hour, offsets)
    take_back(connection, log_id, file_id, [(t, now is not None) for t, now, _ in moves])
    stamps = [t if now is None else now for t, now, _ in moves]
    stamped = np.array([stamp is not None for stamp in stamps], dtype=np.bool_)
    verdicts = np.array([verdict for _, _, verdict in moves], dtype=np.uint8)
    add_line_hours(connection, log_id, file_id, np.array([t or 0 for t in stamps], dtype=np.int64), stamped, verdicts)
