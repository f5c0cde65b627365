"""What the logs tell of: seen and blind time (docs/definitions.md, Seen time), from the store's lines."""

from typing import Any

import numpy as np
import sqlalchemy as sa

from server.store import schema
from server.store.lines import longest_silence_us
from shared import spans as sp
from shared.zones import HOUR

LINE_KINDS = ("understood", "ignored", "unread")
FOREVER = 1 << 61  # beyond any instant that a clock shows
BY_HOURS = 24 * HOUR  # silences from here on are looked for among the hours that hold lines, without reading the lines


def unlogged_spans(connection: sa.Connection, low: int, high: int, quiet_log_s: float | None) -> sp.Spans:
    """What of [low, high) no log tells: the complement of what is seen of the logs that carry overs, or of all where
    none does. Canonical.
    """
    bounds = log_bounds(connection)
    carrying = set(connection.execute(sa.select(schema.log.c.id).where(schema.log.c.carries)).scalars()) & bounds.keys()
    stopped, quiet_us = _stopped_spans(connection), longest_silence_us(quiet_log_s)
    seen = []
    for log_id in carrying or bounds:
        span = sp.clip(sp.spans([bounds[log_id][0]], [bounds[log_id][1]]), low, high)
        if not len(span):
            continue
        span = sp.difference(span, _quiet_spans(connection, log_id, span, quiet_us))
        seen.append(sp.difference(span, stopped.get(log_id, sp.NONE)))
    return sp.complement(sp.union(*seen), low, high)


def log_bounds(connection: sa.Connection) -> dict[int, tuple[int, int]]:
    """The instants of the first and the last stamped line of each log that has one, by its id."""
    hour, log_id = schema.line_hour.c.hour, schema.line_hour.c.log_id
    rows = connection.execute(sa.select(log_id, sa.func.min(hour), sa.func.max(hour)).group_by(log_id)).all()
    found: dict[int, tuple[int, int]] = {}
    for one, first, last in rows:
        begins, ends = _stamps_of(connection, one, first, first + HOUR), _stamps_of(connection, one, last, last + HOUR)
        if not len(begins) or not len(ends):  # hours whose lines were moved elsewhere when they were read again
            begins = ends = _stamps_of(connection, one, first, last + HOUR)
        if len(begins):
            found[one] = (int(begins.min()), int(ends.max()))
    return found


def _quiet_spans(connection: sa.Connection, log_id: int, span: sp.Spans, quiet_us: int) -> sp.Spans:
    """Stretches without a line of a log that are longer than `quiet_us`, exact within a single span.

    Lines are read a good way beyond both ends, and the edges of what was read stand for lines: a stretch from such an
    edge that is no longer than `quiet_us` does not reach into the span."""
    low, high = int(span[0, 0]) - quiet_us - 2 * HOUR, int(span[-1, 1]) + quiet_us + 2 * HOUR
    if quiet_us > BY_HOURS:
        return _quiet_by_hours(connection, log_id, low, high, quiet_us)
    edges = np.sort(
        np.concatenate([np.array([low, high], dtype=np.int64), _stamps_of(connection, log_id, low - HOUR, high)])
    )
    long = np.diff(edges) > quiet_us
    return sp.spans(edges[:-1][long], edges[1:][long])


def _quiet_by_hours(connection: sa.Connection, log_id: int, low: int, high: int, quiet_us: int) -> sp.Spans:
    """The same of long silences: only the lines beside those that may be long enough are read."""
    table = schema.line_hour
    held = sa.or_(*(sa.func.length(table.c[kind]) > 0 for kind in LINE_KINDS))
    query = (
        sa.select(table.c.hour)
        .distinct()
        .where(table.c.log_id == log_id, table.c.hour >= low - HOUR, table.c.hour < high, held)
    )
    hours = np.array([low, *sorted(connection.execute(query).scalars()), high], dtype=np.int64)
    found = []
    for at in np.flatnonzero(np.diff(hours) > quiet_us - HOUR).tolist():
        before, after = int(hours[at]), int(hours[at + 1])
        start = int(_stamps_of(connection, log_id, before, before + 1).max(initial=before))
        end = int(_stamps_of(connection, log_id, after, after + 1).min(initial=high))
        if end - start > quiet_us:
            found.append((start, end))
    return sp.spans([start for start, _ in found], [end for _, end in found])


def _stamps_of(connection: sa.Connection, log_id: int, low: int, high: int) -> np.ndarray:
    """The instants at which a log's lines were written, of the hours that begin in [low, high); not sorted."""
    table = schema.line_hour
    query = sa.select(table.c.hour, *(table.c[kind] for kind in LINE_KINDS)).where(
        table.c.log_id == log_id, table.c.hour >= low, table.c.hour < high
    )
    text = str(query.compile(connection, compile_kwargs={"literal_binds": True}))
    rows = connection.exec_driver_sql(text).cursor.fetchall()  # straight from the driver: there are thousands
    hours = np.array([row[0] for row in rows], dtype=np.int64)
    parts = [np.empty(0, dtype=np.int64)]
    for place in range(1, 1 + len(LINE_KINDS)):
        blobs = [row[place] for row in rows]
        offsets = np.frombuffer(b"".join(blobs), dtype="<u4").astype(np.int64)
        parts.append(offsets + np.repeat(hours, [len(blob) // 4 for blob in blobs]))
    return np.concatenate(parts)


def _stopped_spans(connection: sa.Connection) -> dict[int, sp.Spans]:
    """From each host-stop to the next host-start of its log, by log; a few rows a month, so all are read."""
    event = schema.event
    rows = connection.execute(
        sa.select(event.c.log_id, event.c.t, event.c.event)
        .where(event.c.event.in_(("host-stop", "host-start")))
        .order_by(event.c.log_id, event.c.t, event.c.id)
    ).all()
    found: dict[int, list[tuple[int, int]]] = {}
    after: list[sa.Row[*tuple[Any, ...]] | None] = [*rows[1:], None]
    for (log_id, instant, happened), following in zip(rows, after, strict=False):
        if happened == "host-stop":
            until = following[1] if following is not None and following[0] == log_id else FOREVER
            found.setdefault(log_id, []).append((instant, until))
    return {log_id: sp.union(np.array(stretches, dtype=np.int64)) for log_id, stretches in found.items()}
