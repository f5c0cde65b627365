"""When lines were written, by file and hour, and the text of those that are unread."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from server.store import schema
from server.store.rows import insert_rows, rows_of
from shared.zones import HOUR

LINE_KINDS = ("understood", "ignored", "unread")
UNREAD_KEPT = 100_000  # raw unread lines kept for each log
TEXT_KEPT = 4096  # characters kept of each


def lines_since(connection: sa.Connection, log_id: int, since: int) -> tuple[int, int]:
    """How many lines of a log were stamped since an instant, to the hour, and how many of them are unread."""
    table = schema.line_hour
    ours = (table.c.log_id == log_id) & (table.c.hour >= since // HOUR * HOUR)
    counts = [
        sa.func.coalesce(sa.func.sum(sa.func.length(table.c[kind])), 0) for kind in ("understood", "ignored", "unread")
    ]
    understood, ignored, unread = (int(one) // 4 for one in connection.execute(sa.select(*counts).where(ours)).one())
    return understood + ignored + unread, unread


def line_stamps(
    connection: sa.Connection, low: int, high: int, kinds: tuple[str, ...] = LINE_KINDS, log_id: int | None = None
) -> npt.NDArray[np.int64]:
    """The instants in [low, high) at which lines were written, sorted; of one log or of all together."""
    table = schema.line_hour
    query = sa.select(table.c.hour, *(table.c[kind] for kind in kinds)).where(
        table.c.hour > low - HOUR, table.c.hour < high
    )
    rows = connection.execute(query if log_id is None else query.where(table.c.log_id == log_id))
    parts = [row[0] + np.frombuffer(blob, dtype="<u4").astype(np.int64) for row in rows for blob in row[1:] if blob]
    stamps = np.sort(np.concatenate(parts)) if parts else np.empty(0, dtype=np.int64)
    return stamps[np.searchsorted(stamps, low) : np.searchsorted(stamps, high)]


def stamps_of_hours(connection: sa.Connection, log_id: int, low: int, high: int) -> npt.NDArray[np.int64]:
    """The instants at which a log's lines were written, of the hours that begin in [low, high); not sorted."""
    table = schema.line_hour
    query = sa.select(table.c.hour, *(table.c[kind] for kind in LINE_KINDS)).where(
        table.c.log_id == log_id, table.c.hour >= low, table.c.hour < high
    )
    rows = rows_of(connection, query)
    hours = np.array([row[0] for row in rows], dtype=np.int64)
    parts = [np.empty(0, dtype=np.int64)]
    for place in range(1, 1 + len(LINE_KINDS)):
        blobs = [row[place] for row in rows]
        offsets = np.frombuffer(b"".join(blobs), dtype="<u4").astype(np.int64)
        parts.append(offsets + np.repeat(hours, [len(blob) // 4 for blob in blobs]))
    return np.concatenate(parts)


def first_and_last_line(connection: sa.Connection, latest: int) -> tuple[int, int] | None:
    """The instants of the first and the last line of any log, of the hours that begin no later than `latest`."""
    hour = schema.line_hour.c.hour
    first, last = (  # one by one: for each alone SQLite looks at an end of the index, for both at all of it
        connection.execute(sa.select(edge(hour)).where(hour <= latest)).scalar() for edge in (sa.func.min, sa.func.max)
    )
    if first is None or last is None:
        return None
    return int(line_stamps(connection, first, first + HOUR)[0]), int(line_stamps(connection, last, last + HOUR)[-1])


def hours_of_logs(connection: sa.Connection) -> list[tuple[int, int, int]]:
    """Of each log that has stamped lines: its id, and the hours that hold its first and its last one."""
    hour, log_id = schema.line_hour.c.hour, schema.line_hour.c.log_id
    query = sa.select(log_id, sa.func.min(hour), sa.func.max(hour)).group_by(log_id)
    return [(one, first, last) for one, first, last in connection.execute(query)]


def lines_of_hours(connection: sa.Connection, first: int, after: int) -> dict[str, int]:
    """How many lines of each of LINE_KINDS the hours that begin in [first, after) hold."""
    hour = schema.line_hour.c.hour
    row = connection.execute(sa.select(*_lengths(connection)).where(hour >= first, hour < after)).one()
    return {kind: int(length) // 4 for kind, length in zip(LINE_KINDS, row, strict=True)}


def _lengths(connection: sa.Connection) -> list[sa.ColumnElement[int]]:
    """The bytes of all blobs of each kind; four are a line."""
    size = sa.func.length if connection.dialect.name == "sqlite" else sa.func.octet_length
    return [sa.func.coalesce(sa.func.sum(size(schema.line_hour.c[kind])), 0) for kind in LINE_KINDS]


def add_line_hours(
    connection: sa.Connection,
    log_id: int,
    file_id: int,
    stamps: npt.NDArray[np.int64],
    stamped: npt.NDArray[np.bool_],
    verdicts: npt.NDArray[np.uint8],
) -> None:
    """Add the instants at which lines of a file were written to its hours; (n,) each."""
    if not stamped.any():
        return
    hours = np.floor_divide(stamps, HOUR)
    offsets = (stamps - hours * HOUR).astype("<u4")
    order = np.argsort(hours[stamped], kind="stable")
    hours, offsets, verdicts = hours[stamped][order], offsets[stamped][order], verdicts[stamped][order]
    distinct, first = np.unique(hours, return_index=True)
    table = schema.line_hour
    ours = (table.c.log_id == log_id) & (table.c.file_id == file_id)
    first_hour, last_hour = int(distinct[0]) * HOUR, int(distinct[-1]) * HOUR
    there = connection.execute(sa.select(table).where(ours, table.c.hour.between(first_hour, last_hour)))
    before = {row.hour: (row.understood, row.ignored, row.unread) for row in there}
    rows = []
    for hour, low, high in zip(distinct.tolist(), first, [*first[1:], len(hours)], strict=True):
        old = before.get(hour * HOUR, (b"", b"", b""))
        part, kind = offsets[low:high], verdicts[low:high]
        rows.append((log_id, hour * HOUR, file_id, *(old[code] + part[kind == code].tobytes() for code in range(3))))
    touched = [row[1] for row in rows if row[1] in before]
    for at in range(0, len(touched), 500):
        connection.execute(sa.delete(table).where(ours, table.c.hour.in_(touched[at : at + 500])))
    insert_rows(connection, table, ("log_id", "hour", "file_id", "understood", "ignored", "unread"), rows)


def keep_unread(
    connection: sa.Connection, log_id: int, file_id: int | None, stamps: Sequence[int | None], texts: Sequence[str]
) -> None:  # fmt: skip
    """Keep unread lines of a file as they were, the newest UNREAD_KEPT of a log."""
    if not texts:
        return
    table = schema.unread_line
    rows = [
        (log_id, file_id, stamp, text[:TEXT_KEPT].replace("\0", "\ufffd"), len(text) > TEXT_KEPT)
        for stamp, text in zip(stamps[-UNREAD_KEPT:], texts[-UNREAD_KEPT:], strict=True)
    ]
    insert_rows(connection, table, ("log_id", "file_id", "t", "text", "cut"), rows)
    newest = sa.select(sa.func.max(table.c.id)).where(table.c.log_id == log_id).scalar_subquery()
    connection.execute(sa.delete(table).where(table.c.log_id == log_id, table.c.id <= newest - UNREAD_KEPT))


@dataclass(frozen=True)
class UnreadLine:
    """A line that no shape matched, as it was kept."""

    id: int
    at_us: int | None  #: when it was written
    text: str
    file_id: int | None


def newest_unread(connection: sa.Connection, log_id: int, most: int, *, whole: bool = False) -> list[UnreadLine]:
    """The newest unread lines of a log, the newest first; `whole`: only those that were kept whole."""
    query = _unread(log_id, whole).order_by(schema.unread_line.c.id.desc()).limit(most)
    return [UnreadLine(*row) for row in connection.execute(query)]


def whole_unread(connection: sa.Connection, log_id: int) -> list[UnreadLine]:
    """All unread lines of a log that were kept whole, the oldest first."""
    query = _unread(log_id, whole=True).order_by(schema.unread_line.c.id)
    return [UnreadLine(*row) for row in connection.execute(query)]


def _unread(log_id: int, whole: bool) -> sa.Select[*tuple[Any, ...]]:
    table = schema.unread_line
    query = sa.select(table.c.id, table.c.t, table.c.text, table.c.file_id).where(table.c.log_id == log_id)
    return query.where(~table.c.cut) if whole else query


def count_unread(connection: sa.Connection, log_id: int) -> tuple[int | None, int]:
    """The number of a log's newest kept unread line, and how many are kept."""
    table = schema.unread_line
    query = sa.select(sa.func.max(table.c.id), sa.func.count()).where(table.c.log_id == log_id)
    newest, count = connection.execute(query).one()
    return newest, count


def unread_share(connection: sa.Connection, log_id: int, *, before: int | None, since: int | None) -> float:
    """The share of a log's lines that are unread, of the hours before one, or from one on; 0 where there are none."""
    hour = schema.line_hour.c.hour
    bounds = [*([hour < before] if before is not None else []), *([hour >= since] if since is not None else [])]
    query = sa.select(*_lengths(connection)).where(schema.line_hour.c.log_id == log_id, *bounds)
    sizes = connection.execute(query).one()
    return float(sizes[2] / sum(sizes)) if sum(sizes) else 0.0


def stamped_after(connection: sa.Connection, latest: int) -> list[tuple[str, int, int]]:
    """Logs with lines in hours that begin after `latest`: name, how many lines, the instant of the last one."""
    table, log = schema.line_hour, schema.log
    query = sa.select(log.c.id, log.c.name, sa.func.max(table.c.hour), *_lengths(connection)).join(
        log, log.c.id == table.c.log_id
    )
    ahead = query.where(table.c.hour > latest).group_by(log.c.id, log.c.name).order_by(log.c.name)
    return [
        (row[1], int(sum(row[3:])) // 4, int(line_stamps(connection, row[2], row[2] + HOUR, log_id=row[0])[-1]))
        for row in connection.execute(ahead).all()
    ]


def drop_unread(connection: sa.Connection, ids: Sequence[int]) -> None:
    """Kept lines that were understood after all."""
    table = schema.unread_line
    for at in range(0, len(ids), 500):
        connection.execute(sa.delete(table).where(table.c.id.in_(ids[at : at + 500])))


def take_unread_stamps(connection: sa.Connection, log_id: int, file_id: int, hour: int, offsets: Sequence[int]) -> None:
    """Takes lines out of the unread ones of an hour of a file, by their microseconds after it."""
    table = schema.line_hour
    ours = (table.c.log_id == log_id) & (table.c.file_id == file_id) & (table.c.hour == hour)
    held = connection.execute(sa.select(table.c.unread).where(ours)).scalar()
    if held is None:
        return
    left = np.frombuffer(held, dtype="<u4").tolist()
    for offset in offsets:
        if offset in left:
            left.remove(offset)
    connection.execute(sa.update(table).where(ours).values(unread=np.array(left, dtype="<u4").tobytes()))
