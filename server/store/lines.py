"""When lines were written, by file and hour, and the text of those that are unread."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from server.store import schema
from server.store.rows import insert_rows
from shared.zones import HOUR, SECOND

UNREAD_KEPT = 100_000  # raw unread lines kept for each log
TEXT_KEPT = 4096  # characters kept of each
LONGEST_SILENCE_S = 31 * 86_400.0  # no host that works is silent for a month; a stray stamp leaps over years


def longest_silence_us(quiet_log_s: float | None) -> int:
    """The longest stretch without a line of a log that may be seen time (docs/definitions.md, Seen time)."""
    return round(min(LONGEST_SILENCE_S, LONGEST_SILENCE_S if quiet_log_s is None else quiet_log_s) * SECOND)


def lines_around(connection: sa.Connection, log_id: int | None, first: int, last: int) -> tuple[int, int]:
    """Two instants that no other line of the log lies between and [first, last], give or take an hour: about where the
    line before and the line after are, `first` and `last` themselves where there is none.
    """
    hour = schema.line_hour.c.hour
    ours = schema.line_hour.c.log_id == log_id
    before = connection.execute(sa.select(sa.func.max(hour)).where(ours, hour <= first - HOUR)).scalar()
    after = connection.execute(sa.select(sa.func.min(hour)).where(ours, hour > last)).scalar()
    return first - HOUR if before is None else before, last + HOUR if after is None else after + HOUR


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
    for piece in range(0, len(touched), 500):
        connection.execute(sa.delete(table).where(ours, table.c.hour.in_(touched[piece : piece + 500])))
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
