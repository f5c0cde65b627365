"""The incidents around an instant: what is on record, and what the rules find in the log where nobody watched."""

from collections.abc import Sequence

from server.alerts import repository
from server.alerts.engine import WARM_UP, run
from server.alerts.incident import Incident
from server.alerts.load import limits_of, load_for_replay
from server.alerts.states import State
from server.config import Station
from server.store.engine import Connection
from server.store.logs import latest_stamp
from shared.incidents import since
from shared.zones import DAY

BEFORE = 2 * DAY  # from when on the rules are asked, so that what stands for long was raised
AFTER = (DAY, 14 * DAY, 400 * DAY)  # how far on it is looked for what clears an incident


def incidents_around(
    connection: Connection, start: int, end: int, station: Station, now: int
) -> list[State | Incident]:
    """Those that reach into [start, end], oldest first; what the rules find goes up to `now` or the last line,
    whichever is later. Raises StoreError.
    """
    kept = repository.going_on(connection, start, end)
    watched_since = repository.instant_of(connection, repository.BEGAN)
    is_watched = watched_since is not None and watched_since <= start - BEFORE
    found = [] if is_watched else _unwatched(connection, start, end, station, now)
    known = {(one.rule, one.subject, one.raised) for one in kept}
    alone = [
        one
        for one in found
        if (one.rule, one.subject, one.raised) not in known
        and (watched_since is None or (one.raised < watched_since and one.cleared is not None))
    ]
    every: list[State | Incident] = [*kept, *alone]
    return sorted(every, key=lambda one: one.raised)


def _unwatched(connection: Connection, start: int, end: int, station: Station, now: int) -> Sequence[Incident]:
    present = max(now, latest_stamp(connection) or now)
    limits, found = limits_of(station), []
    for after in AFTER:
        upto = min(end + after, present)
        if upto <= start:
            return []
        history = load_for_replay(connection, start - BEFORE, upto, station, station.names_of_ids())
        every = run(history, start - BEFORE - WARM_UP, upto, limits, {})
        found = [one for one in every if _reaches_into(one, start, end)]
        if upto == present or all(one.cleared is not None for one in found):
            break
    return found


def _reaches_into(one: Incident, start: int, end: int) -> bool:
    return since(one) <= end and (one.cleared is None or one.cleared >= start)
