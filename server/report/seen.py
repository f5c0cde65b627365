"""How much of an earlier month was seen: the same blind time as the figures', read fast because a report asks for thirteen months."""

import numpy as np
import sqlalchemy as sa

from server.analytics.load import LINE_KINDS, line_stamps
from server.store import schema
from shared import spans as sp
from shared.zones import DAY, HOUR, SECOND


def seen_us(connection: sa.Connection, logged: sp.Spans, stopped: sp.Spans, quiet_log_s: float | None) -> int:
    """Length of one stretch from first to last line (a single span), less its blind time; microseconds. `stopped` is when hosts were."""
    start, end = int(logged[0, 0]), int(logged[-1, 1])
    silent = sp.NONE if quiet_log_s is None else sp.clip(_silent(connection, start, end, round(quiet_log_s * SECOND)), start, end)
    return sp.length(sp.difference(logged, sp.union(sp.clip(stopped, start, end), silent)))


def _silent(connection: sa.Connection, start: int, end: int, quiet_us: int) -> sp.Spans:
    """Stretches without a line of any log that are longer than `quiet_us`, exact within [start, end).

    Lines are read a good way beyond both ends, and the edges of what was read stand for lines: a stretch from such an edge that is no longer
    than `quiet_us` does not reach into [start, end).
    """
    low, high = start - quiet_us - 2 * HOUR, end + quiet_us + 2 * HOUR
    table = schema.line_hour
    query = sa.select(table.c.hour, *(table.c[kind] for kind in LINE_KINDS)).where(table.c.hour >= low, table.c.hour < high)
    text = str(query.compile(connection, compile_kwargs={"literal_binds": True}))
    rows = connection.exec_driver_sql(text).cursor.fetchall()  # straight from the driver: there are thousands
    hours = np.array([row[0] for row in rows], dtype=np.int64)
    stamps = [np.array([low, high], dtype=np.int64)]
    for place in range(1, 1 + len(LINE_KINDS)):
        blobs = [row[place] for row in rows]
        offsets = np.frombuffer(b"".join(blobs), dtype="<u4").astype(np.int64)
        stamps.append(offsets + np.repeat(hours, [len(blob) // 4 for blob in blobs]))
    edges = np.sort(np.concatenate(stamps))
    long = np.diff(edges) > quiet_us
    return sp.spans(edges[:-1][long], edges[1:][long])


def first_and_last(connection: sa.Connection, end: int) -> tuple[int, int] | None:
    """The instants of the first and the last line of any log, as far as a day after a month's end: what later lines say, or lines of a clock
    that was wrong, does not change a report."""
    hour = schema.line_hour.c.hour
    latest = end + DAY
    first, last = connection.execute(sa.select(sa.func.min(hour), sa.func.max(hour)).where(hour <= latest)).one()
    if first is None:
        return None
    return int(line_stamps(connection, first, first + HOUR)[0]), int(line_stamps(connection, last, last + HOUR)[-1])
