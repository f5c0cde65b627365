"""The incidents of a month: those that alerts have put on record, and where nobody watched, what the rules find in the
log afterwards.
"""

import hashlib
import json

from server.alerts.repository import BEGAN, instant_of
from server.config import Station
from server.report.month import Incident
from server.store.engine import Connection, Store, reading, writing
from server.store.facts import read_fact, read_version, set_fact
from server.store.incidents import incidents_open_in
from shared.zones import SECOND

KEPT_FOR = 600 * SECOND  # what was found of a month that runs: meanwhile a silence may have become too long


def incidents_of(engine: Store, station: Station, start: int, end: int, now: int) -> tuple[list[Incident], bool]:
    """The incidents open at any instant of [start, end), and whether alerts were watched from its start on. Raises
    StoreError.

    Where they were not, the rules are run over the log; what they find up to `now` is kept until the store takes its
    next lines, or for ten minutes of a month that runs, as that takes longer than the rest of a report."""
    with reading(engine) as connection:
        recorded = recorded_incidents(connection, start, end)
        began, version = instant_of(connection, BEGAN), read_version(connection)
        name = f"report.incidents {start}"
        kept = read_fact(connection, name)
    if began is not None and began <= start:
        return recorded, True
    mark = [version, _settings_mark(station), min(now, end) // KEPT_FOR]
    found = json.loads(kept) if kept else {}
    if found.get("mark") != mark:
        found = {"mark": mark, "incidents": _replayed(engine, station, start, end, now)}
        with writing(engine) as connection:
            set_fact(connection, name, json.dumps(found))
    later = [Incident(*fields) for fields in found["incidents"]]
    known = {(one.rule, one.subject, one.raised) for one in recorded}
    return sorted(
        [*recorded, *(one for one in later if (one.rule, one.subject, one.raised) not in known)],
        key=lambda one: one.raised,
    ), False


def _settings_mark(station: Station) -> str:
    """Changes with the settings that the rules go by. It tells none of them, least of all the addresses of notices,
    which hold passwords."""
    used = station.model_dump_json(
        include={"timers": True, "alerts": True, "target": True, "stations": True},
        exclude={"alerts": {"notify", "alive_url"}},
    )
    return hashlib.sha256(used.encode()).hexdigest()


def _replayed(engine: Store, station: Station, start: int, end: int, now: int) -> list[list[object]]:
    from server.alerts.load import replayed

    with reading(engine) as connection:
        found = replayed(connection, start, end, station, now)
    return [[one.rule, one.subject, one.raised, one.cleared, one.urgent, one.began] for one in found]


def recorded_incidents(connection: Connection, start: int, end: int) -> list[Incident]:
    """Those open at any instant of [start, end), in order of raising. What they say is left out: it may name what the
    report must not.
    """
    return [Incident(*row) for row in incidents_open_in(connection, start, end)]
