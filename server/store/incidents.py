"""Incidents: what the rules of server.alerts raised, and how far it was told of."""

from collections.abc import Mapping, Sequence
from typing import Any

import sqlalchemy as sa

from server.store.schema import incident

#: In this order in every row that is given here.
COLUMNS = (
    "id",
    "rule",
    "subject",
    "raised",
    "cleared",
    "urgent",
    "says",
    "acknowledged",
    "told",
    "told_end",
    "reminders",
    "next",
    "began",
)
Row = Sequence[Any]
Identity = tuple[str, str, int]  #: rule, subject, instant at which it was raised


def _wanted() -> sa.Select[*tuple[Any, ...]]:
    return sa.select(*(incident.c[name] for name in COLUMNS))


def incident_of(connection: sa.Connection, number: int) -> Row | None:
    """One incident by its number."""
    return connection.execute(_wanted().where(incident.c.id == number)).first()


def incidents_raised(connection: sa.Connection, start: int | None, end: int | None) -> list[Row]:
    """Those raised in [start, end), oldest first; None: without that bound."""
    query = _wanted().order_by(incident.c.raised, incident.c.id)
    if start is not None:
        query = query.where(incident.c.raised >= start)
    if end is not None:
        query = query.where(incident.c.raised < end)
    return list(connection.execute(query))


def incidents_going_on_in(connection: sa.Connection, start: int, end: int) -> list[Row]:
    """Those that what they are about, or they themselves, reach into [start, end], in order of raising."""
    began = sa.func.coalesce(incident.c.began, incident.c.raised)
    reaches = sa.or_(incident.c.cleared.is_(None), incident.c.cleared >= start)
    return list(connection.execute(_wanted().where(began <= end, reaches).order_by(incident.c.raised, incident.c.id)))


def incidents_open_in(
    connection: sa.Connection, start: int, end: int
) -> list[tuple[str, str, int, int | None, bool, int | None]]:
    """Rule, subject, raised, cleared, urgency and when it began, of those open at any instant of [start, end), in order
    of raising.
    """
    names = ("rule", "subject", "raised", "cleared", "urgent", "began")
    query = sa.select(*(incident.c[name] for name in names))
    query = query.where(incident.c.raised < end, sa.or_(incident.c.cleared.is_(None), incident.c.cleared > start))
    rows = connection.execute(query.order_by(incident.c.raised, incident.c.id))
    return [
        (rule, subject, raised, cleared, bool(urgent), began) for rule, subject, raised, cleared, urgent, began in rows
    ]


def incidents_to_tell(connection: sa.Connection, cleared_after: int) -> list[Row]:
    """Those that are not over or were until lately, and those of which something is still to be said."""
    wanted = incident.c.cleared.is_(None) | ~incident.c.told_end | (incident.c.cleared > cleared_after)
    return list(connection.execute(_wanted().where(wanted).order_by(incident.c.id)))


def incidents_standing(connection: sa.Connection) -> list[Row]:
    """Those that are not over, in order of raising."""
    query = _wanted().where(incident.c.cleared.is_(None))
    return list(connection.execute(query.order_by(incident.c.raised, incident.c.id)))


def standing_incidents(connection: sa.Connection) -> dict[Identity, int]:
    """The numbers of those that are not over."""
    query = sa.select(incident.c.rule, incident.c.subject, incident.c.raised, incident.c.id)
    rows = connection.execute(query.where(incident.c.cleared.is_(None)))
    return {(rule, subject, raised): number for rule, subject, raised, number in rows}


def is_on_record(connection: sa.Connection, identity: Identity) -> bool:
    """Whether this incident was raised before."""
    rule, subject, raised = identity
    same = sa.select(incident.c.id).where(
        incident.c.rule == rule, incident.c.subject == subject, incident.c.raised == raised
    )
    return connection.execute(same).first() is not None


def raise_incident(
    connection: sa.Connection, identity: Identity, *, cleared: int | None, urgent: bool, says: str, began: int | None
) -> None:
    """A new one, of which nothing was told yet."""
    rule, subject, raised = identity
    connection.execute(
        sa.insert(incident).values(
            rule=rule, subject=subject, raised=raised, cleared=cleared, urgent=urgent, says=says, began=began,
            told_end=False, reminders=0,
        )
    )  # fmt: skip


def clear_incidents(connection: sa.Connection, numbers: Sequence[int], cleared: int, says: str = "") -> None:
    """They are over; `says`, where it is not empty, is what is known of them now."""
    values: dict[str, Any] = {"cleared": cleared, **({"says": says} if says else {})}
    connection.execute(sa.update(incident).where(incident.c.id.in_(numbers)).values(**values))


def keep_incident(connection: sa.Connection, number: int, values: Mapping[str, Any]) -> None:
    """Columns of one incident as they are from now on."""
    connection.execute(sa.update(incident).where(incident.c.id == number).values(**values))


def count_changes(connection: sa.Connection) -> tuple[int, ...]:
    """Changes whenever one is raised, cleared or acknowledged."""
    counts = (incident.c.id, incident.c.cleared, incident.c.acknowledged)
    return tuple(connection.execute(sa.select(*map(sa.func.count, counts))).one())
