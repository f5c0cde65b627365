"""What the logs tell of: seen and blind time (docs/definitions.md, Seen time), from the store's lines."""

import numpy as np

from server.store.engine import Connection
from server.store.events import host_events
from server.store.lines import hours_of_logs, stamps_of_hours
from server.store.logs import carrying_logs
from shared import spans as sp
from shared.zones import HOUR, SECOND

FOREVER = 1 << 61  # beyond any instant that a clock shows


def unlogged_spans(connection: Connection, low: int, high: int, quiet_log_s: float | None) -> sp.Spans:
    """What of [low, high) no log tells: the complement of what is seen of the logs that carry overs, or of all where
    none does. Canonical.
    """
    bounds = log_bounds(connection)
    carrying = carrying_logs(connection) & bounds.keys()
    stopped = _stopped_spans(connection)
    seen = []
    for log_id in carrying or bounds:
        span = sp.clip(sp.spans([bounds[log_id][0]], [bounds[log_id][1]]), low, high)
        if not len(span):
            continue
        if quiet_log_s is not None:
            span = sp.difference(span, _quiet_spans(connection, log_id, span, round(quiet_log_s * SECOND)))
        seen.append(sp.difference(span, stopped.get(log_id, sp.NONE)))
    return sp.complement(sp.union(*seen), low, high)


def log_bounds(connection: Connection) -> dict[int, tuple[int, int]]:
    """The instants of the first and the last stamped line of each log that has one, by its id."""
    found: dict[int, tuple[int, int]] = {}
    for one, first, last in hours_of_logs(connection):
        begins, ends = (
            stamps_of_hours(connection, one, first, first + HOUR),
            stamps_of_hours(connection, one, last, last + HOUR),
        )
        if not len(begins) or not len(ends):  # hours whose lines were moved elsewhere when they were read again
            begins = ends = stamps_of_hours(connection, one, first, last + HOUR)
        if len(begins):
            found[one] = (int(begins.min()), int(ends.max()))
    return found


def _quiet_spans(connection: Connection, log_id: int, span: sp.Spans, quiet_us: int) -> sp.Spans:
    """Stretches without a line of a log that are longer than `quiet_us`, exact within a single span.

    Lines are read a good way beyond both ends, and the edges of what was read stand for lines: a stretch from such an
    edge that is no longer than `quiet_us` does not reach into the span."""
    low, high = int(span[0, 0]) - quiet_us - 2 * HOUR, int(span[-1, 1]) + quiet_us + 2 * HOUR
    edges = np.sort(
        np.concatenate([np.array([low, high], dtype=np.int64), stamps_of_hours(connection, log_id, low - HOUR, high)])
    )
    long = np.diff(edges) > quiet_us
    return sp.spans(edges[:-1][long], edges[1:][long])


def _stopped_spans(connection: Connection) -> dict[int, sp.Spans]:
    """From each host-stop to the next host-start of its log, by log."""
    events = host_events(connection)
    after: list[tuple[int, int, bool] | None] = [*events[1:], None]
    found: dict[int, list[tuple[int, int]]] = {}
    for (log_id, instant, stopped), following in zip(events, after, strict=False):
        if stopped:
            until = following[1] if following is not None and following[0] == log_id else FOREVER
            found.setdefault(log_id, []).append((instant, until))
    return {log_id: sp.union(np.array(stretches, dtype=np.int64)) for log_id, stretches in found.items()}
