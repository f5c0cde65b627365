"""Incidents, notices and deliveries in the store. What is raised and what is to be said of it commit together."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import sqlalchemy as sa

from server.alerts.found import Found
from server.alerts.notices import Notice
from server.alerts.states import AFTERGLOW, State
from server.store import schema
from server.store.facts import set_fact

WATCHED, BEGAN = "alerts watched until", "alerts watched since"
LATEST = 600_000_000  # a finished incident that is found later than this after the last look is history, not news
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
)


@dataclass(frozen=True)
class Channel:
    """One place that notices go to: its URL, and what stands for it in the store."""

    url: str
    label: str  #: the URL with what is secret hidden

    @property
    def key(self) -> str:
        return hashlib.blake2b(self.url.encode(), digest_size=8).hexdigest()


def read_fact(connection: sa.Connection, name: str) -> int | None:
    value = connection.execute(sa.select(schema.fact.c.value).where(schema.fact.c.name == name)).scalar()
    return int(value) if value is not None else None


def load_states(connection: sa.Connection, now: int) -> list[State]:
    """The incidents that are not over or just were, and those of which something is still to be said."""
    table = schema.incident
    wanted = table.c.cleared.is_(None) | ~table.c.told_end | (table.c.cleared > now - AFTERGLOW)
    query = sa.select(*(table.c[name] for name in COLUMNS)).where(wanted).order_by(table.c.id)
    return [State(*row) for row in connection.execute(query)]


def reconcile(connection: sa.Connection, found: Iterable[Found], last: int, now: int) -> None:
    """Put what the rules found beside what stands in the store: new incidents in, those that are over cleared."""
    table = schema.incident
    standing = {
        (row.rule, row.subject, row.raised): row.id
        for row in connection.execute(sa.select(table).where(table.c.cleared.is_(None)))
    }
    seen = set()
    for one in found:
        key = (one.rule, one.subject, one.raised)
        seen.add(key)
        if key in standing:
            if one.cleared is not None:
                connection.execute(
                    sa.update(table)
                    .where(table.c.id == standing[key])
                    .values(cleared=one.cleared, **({"says": one.says} if one.says else {}))
                )
        elif (one.cleared is None or one.cleared > last - LATEST) and not _known(connection, key):
            connection.execute(
                sa.insert(table).values(
                    rule=one.rule, subject=one.subject, raised=one.raised, cleared=one.cleared, urgent=one.urgent, says=one.says,
                    told_end=False, reminders=0,
                )
            )  # fmt: skip
    gone = [number for key, number in standing.items() if key not in seen]
    if gone:  # what it rested on has changed: an over that turned out to be unfinished, a log that was taken away
        connection.execute(sa.update(table).where(table.c.id.in_(gone)).values(cleared=now))


def _known(connection: sa.Connection, key: tuple[str, str, int]) -> bool:
    table = schema.incident
    same = sa.select(table.c.id).where(table.c.rule == key[0], table.c.subject == key[1], table.c.raised == key[2])
    return connection.execute(same).first() is not None


def keep_states(connection: sa.Connection, changed: Iterable[State]) -> None:
    table = schema.incident
    for state in changed:
        values = {"told": state.told, "told_end": state.told_end, "reminders": state.reminders, "next": state.next}
        connection.execute(sa.update(table).where(table.c.id == state.id).values(**values))


def enqueue(connection: sa.Connection, notices: Sequence[Notice], channels: Sequence[Channel], now: int) -> None:
    """Notices into the outbox, one delivery a channel."""
    for one in notices:
        row = sa.insert(schema.notice).values(
            incident_id=one.incident_id, kind=one.kind, made=now, title=one.title, body=one.body
        )
        number = connection.execute(row).inserted_primary_key[0]  # type: ignore[index]
        for channel in channels:
            connection.execute(
                sa.insert(schema.delivery).values(
                    notice_id=number, channel=channel.key, label=channel.label, state="waiting", tries=0, next=now
                )
            )


def mark_watched(connection: sa.Connection, now: int) -> None:
    """The rules have been asked up to `now`."""
    if read_fact(connection, BEGAN) is None:
        set_fact(connection, BEGAN, str(now))
    set_fact(connection, WATCHED, str(now))


def incident(connection: sa.Connection, incident_id: int) -> State | None:
    """One incident by its number."""
    table = schema.incident
    row = connection.execute(sa.select(*(table.c[name] for name in COLUMNS)).where(table.c.id == incident_id)).first()
    return State(*row) if row else None


def acknowledge(connection: sa.Connection, incident_id: int, now: int) -> State | None:
    """The keeper has taken note: no more reminders. None where there is no such incident."""
    state, table = incident(connection, incident_id), schema.incident
    if state is not None and state.acknowledged is None:
        connection.execute(sa.update(table).where(table.c.id == incident_id).values(acknowledged=now))
    return state


def incidents(connection: sa.Connection, start: int | None = None, end: int | None = None) -> list[State]:
    """The incidents raised in [start, end), oldest first; without bounds, all."""
    table = schema.incident
    query = sa.select(*(table.c[name] for name in COLUMNS)).order_by(table.c.raised, table.c.id)
    if start is not None:
        query = query.where(table.c.raised >= start)
    if end is not None:
        query = query.where(table.c.raised < end)
    return [State(*row) for row in connection.execute(query)]


@dataclass(frozen=True)
class Failing:
    """A delivery that has not got through."""

    label: str
    title: str
    tries: int
    trouble: str
    next: int | None  #: when it is tried again; None: not before the settings change


def failing(connection: sa.Connection) -> list[Failing]:
    """Deliveries that were tried and have not got through, newest first."""
    delivery, notice = schema.delivery, schema.notice
    rows = connection.execute(
        sa.select(
            delivery.c.label, notice.c.title, delivery.c.tries, delivery.c.trouble, delivery.c.state, delivery.c.next
        )
        .join(notice, notice.c.id == delivery.c.notice_id)
        .where(delivery.c.state != "sent", delivery.c.trouble.is_not(None))
        .order_by(delivery.c.id.desc())
        .limit(50)
    )
    return [
        Failing(row.label, row.title, row.tries, row.trouble, None if row.state == "failed" else row.next)
        for row in rows
    ]
