"""Incidents, notices and deliveries in the store. What is raised and what is to be said of it commit together."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from server.alerts.incident import Incident
from server.alerts.notices import Notice
from server.alerts.states import AFTERGLOW, State
from server.store.deliveries import put_delivery, put_notice
from server.store.engine import Connection
from server.store.facts import read_fact, set_fact
from server.store.incidents import (
    clear_incidents,
    incident_of,
    incidents_going_on_in,
    incidents_raised,
    incidents_to_tell,
    is_on_record,
    keep_incident,
    raise_incident,
    standing_incidents,
)
from server.store.rows import may_be_id

WATCHED, BEGAN = "alerts watched until", "alerts watched since"
LATEST = 600_000_000  # a finished incident that is found later than this after the last look is history, not news


@dataclass(frozen=True)
class Channel:
    """One place that notices go to: its URL, and what stands for it in the store."""

    url: str
    label: str  #: the URL with what is secret hidden

    @property
    def key(self) -> str:
        return hashlib.blake2b(self.url.encode(), digest_size=8).hexdigest()


def instant_of(connection: Connection, name: str) -> int | None:
    """WATCHED or BEGAN; None where the rules were never asked."""
    value = read_fact(connection, name)
    return int(value) if value is not None else None


def load_states(connection: Connection, now: int) -> list[State]:
    """The incidents that are not over or just were, and those of which something is still to be said."""
    return [State(*row) for row in incidents_to_tell(connection, now - AFTERGLOW)]


def reconcile(connection: Connection, found: Iterable[Incident], last: int, now: int) -> None:
    """Put what the rules found beside what stands in the store: new incidents in, those that are over cleared."""
    standing = standing_incidents(connection)
    seen = set()
    for one in found:
        key = (one.rule, one.subject, one.raised)
        seen.add(key)
        if key in standing:
            if one.cleared is not None:
                clear_incidents(connection, [standing[key]], one.cleared, one.says)
        elif (one.cleared is None or one.cleared > last - LATEST) and not is_on_record(connection, key):
            raise_incident(connection, key, cleared=one.cleared, urgent=one.urgent, says=one.says, began=one.began)
    gone = [number for key, number in standing.items() if key not in seen]
    if gone:  # what it rested on has changed: an over that turned out to be unfinished, a log that was taken away
        clear_incidents(connection, gone, now)


def keep_states(connection: Connection, changed: Iterable[State]) -> None:
    for state in changed:
        values = {
            "told": state.told_us,
            "told_end": state.told_end,
            "reminders": state.reminders,
            "next": state.next_us,
        }
        keep_incident(connection, state.id, values)


def enqueue(connection: Connection, notices: Sequence[Notice], channels: Sequence[Channel], now: int) -> None:
    """Notices into the outbox, one delivery a channel."""
    for one in notices:
        number = put_notice(connection, one.incident_id, kind=one.kind, made=now, title=one.title, body=one.body)
        for channel in channels:
            put_delivery(connection, number, channel=channel.key, label=channel.label, due=now)


def mark_watched(connection: Connection, now: int) -> None:
    """The rules have been asked up to `now`."""
    if read_fact(connection, BEGAN) is None:
        set_fact(connection, BEGAN, str(now))
    set_fact(connection, WATCHED, str(now))


def incident(connection: Connection, incident_id: int) -> State | None:
    """One incident by its number."""
    row = incident_of(connection, incident_id)
    return State(*row) if row else None


def acknowledge(connection: Connection, incident_id: int, now: int) -> State | None:
    """The keeper has taken note: no more reminders. None where there is no such incident."""
    state = incident(connection, incident_id) if may_be_id(incident_id) else None
    if state is not None and state.acknowledged_us is None:
        keep_incident(connection, incident_id, {"acknowledged": now})
    return state


def incidents(connection: Connection, start: int | None = None, end: int | None = None) -> list[State]:
    """The incidents raised in [start, end), oldest first; without bounds, all."""
    return [State(*row) for row in incidents_raised(connection, start, end)]


def going_on(connection: Connection, start: int, end: int) -> list[State]:
    """The incidents that reach into [start, end], oldest first."""
    return [State(*row) for row in incidents_going_on_in(connection, start, end)]
