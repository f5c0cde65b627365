"""The incidents that alerts have put on record."""

import sqlalchemy as sa

from server.report.month import Incident
from server.store import schema


def recorded_incidents(connection: sa.Connection, start: int, end: int) -> list[Incident]:
    """Those open at any instant of [start, end), in order of raising. What they say is left out: it may name what the report must not."""
    incident = schema.incident
    wanted = sa.select(incident.c.rule, incident.c.subject, incident.c.raised, incident.c.cleared, incident.c.urgent).where(
        incident.c.raised < end, sa.or_(incident.c.cleared.is_(None), incident.c.cleared > start)
    )
    rows = connection.execute(wanted.order_by(incident.c.raised, incident.c.id))
    return [Incident(rule, subject, raised, cleared, bool(urgent)) for rule, subject, raised, cleared, urgent in rows]
