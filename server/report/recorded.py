"""The incidents of a month: those that alerts have put on record, and where nobody watched, what the rules find in the
log afterwards.
"""

import json

import sqlalchemy as sa

from server.alerts.book import BEGAN, read_fact
from server.config import Station
from server.report.month import Incident
from server.store import schema
from server.store.engine import reading, writing
from server.store.facts import read_version, set_fact


def incidents_of(engine: sa.Engine, station: Station, start: int, end: int) -> tuple[list[Incident], bool]:
    """The incidents open at any instant of [start, end), and whether alerts were watched from its start on. Raises
    StoreError.

    Where they were not, the rules are run over the log; what they find is kept until the store takes its next lines, as
    that takes longer than the rest of a report."""
    with reading(engine) as connection:
        recorded = recorded_incidents(connection, start, end)
        began, version = read_fact(connection, BEGAN), read_version(connection)
        name = f"report.incidents {start}"
        kept = connection.execute(sa.select(schema.fact.c.value).where(schema.fact.c.name == name)).scalar()
    if began is not None and began <= start:
        return recorded, True
    mark = [version, station.model_dump_json(include={"timers", "alerts", "target", "stations"})]
    found = json.loads(kept) if kept else {}
    if found.get("mark") != mark:
        found = {"mark": mark, "incidents": _replayed(engine, station, start, end)}
        with writing(engine) as connection:
            set_fact(connection, name, json.dumps(found))
    later = [Incident(*fields) for fields in found["incidents"]]
    known = {(one.rule, one.subject, one.raised) for one in recorded}
    return sorted(
        [*recorded, *(one for one in later if (one.rule, one.subject, one.raised) not in known)],
        key=lambda one: one.raised,
    ), False


def _replayed(engine: sa.Engine, station: Station, start: int, end: int) -> list[list[object]]:
    from server.alerts.engine import replay
    from server.alerts.load import limits_of, load_for_replay

    with reading(engine) as connection:
        heard = load_for_replay(connection, start, end, station, station.names_of_ids())
    return [
        [one.rule, one.subject, one.raised, one.cleared, one.urgent]
        for one in replay(heard, start, end, limits_of(station))
    ]


def recorded_incidents(connection: sa.Connection, start: int, end: int) -> list[Incident]:
    """Those open at any instant of [start, end), in order of raising. What they say is left out: it may name what the
    report must not.
    """
    incident = schema.incident
    wanted = sa.select(
        incident.c.rule, incident.c.subject, incident.c.raised, incident.c.cleared, incident.c.urgent
    ).where(incident.c.raised < end, sa.or_(incident.c.cleared.is_(None), incident.c.cleared > start))
    rows = connection.execute(wanted.order_by(incident.c.raised, incident.c.id))
    return [Incident(rule, subject, raised, cleared, bool(urgent)) for rule, subject, raised, cleared, urgent in rows]
