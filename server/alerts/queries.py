"""What the Transmitter page asks: incidents, keyed time, failed deliveries, and what other limits would have raised."""

import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from server.alerts import repository
from server.alerts.engine import MEMORY, replay
from server.alerts.history import History
from server.alerts.incident import Incident
from server.alerts.limits import Limits
from server.alerts.load import limits_of, load_history
from server.alerts.states import State
from server.analytics.airtime import keyed
from server.analytics.load import load_activity
from server.config import Station, Width
from server.store import deliveries
from server.store import incidents as record
from server.store.deliveries import Failing
from server.store.engine import Store, reading, writing
from server.telling.targets import TargetNames
from shared import spans as sp
from shared.zones import DAY


@dataclass(frozen=True)
class LookBack:
    """A stretch of time: keyed as the figures have it, and what the rules found."""

    unfinished: Sequence[
        int
    ]  #: when overs began that have no end in the log, in order; how long they went on is not known
    blind: sp.Spans  #: as the figures have it
    counted: sp.Spans  #: keyed time as the figures have it: of finished overs, within seen time
    kept: Sequence[State]  #: what the live watch raised, oldest first
    replayed: Sequence[Incident]  #: what the rules would have raised before the watch began, oldest first
    watched_since: int | None


@dataclass(frozen=True)
class Lately:
    """How the alerts stand, and what they raised lately."""

    standing: Sequence[State | Incident]  #: not cleared, oldest first
    over: Sequence[State | Incident]  #: over, and raised or cleared lately, oldest first
    watched: tuple[int, int] | None  #: since when and until when the rules have been asked; None: never


class AlertQueries(Protocol):
    """Every method may block, and raises StoreError where the store can't be read."""

    def stamp(self) -> str:
        """Changes whenever an incident or a delivery changes. Cheap."""
        ...

    def limits(self) -> Limits: ...

    def notices_go_somewhere(self) -> bool: ...

    def look_back(self, start: int, end: int) -> LookBack: ...

    def lately(self, start: int, now: int) -> Lately:
        """What stands raised now, and what was raised in [start, now); what lies before the watch began is found by the
        rules afterwards.
        """
        ...

    def raised(self, start: int | None, end: int | None) -> Sequence[State]:
        """What the live watch raised in [start, end), oldest first, as it was said; None: without that bound."""
        ...

    def standing(self) -> Sequence[State] | None:
        """What the live watch raised and is not over, oldest first; None where it never watched. Cheap."""
        ...

    def failing(self) -> Sequence[Failing]: ...

    def would_raise(self, width: Width, quiet: bool, limit: float, start: int, end: int) -> int:
        """How many duty incidents [start, end) would have had with one limit at another value."""
        ...

    def incident(self, number: int) -> State | None: ...

    def acknowledge(self, number: int, now: int) -> bool:
        """Take note of an incident; False where there is none of that number."""
        ...


class StoreAlertQueries:
    """Desk over a real store."""

    def __init__(self, engine: Store, station: Station) -> None:
        """Raises StationFileError."""
        self._engine = engine
        self._station = station
        self._ids = station.names_of_ids()
        self._limits = limits_of(station)
        self._names = TargetNames(station.target)
        self._kept: tuple[tuple[int, int], History] | None = None
        self._lock = threading.Lock()

    def stamp(self) -> str:
        with reading(self._engine) as connection:
            return f"{record.count_changes(connection)}{deliveries.count_changes(connection)}"

    def limits(self) -> Limits:
        return self._limits

    def notices_go_somewhere(self) -> bool:
        return bool(self._station.alerts.notify)

    def look_back(self, start: int, end: int) -> LookBack:
        history = self._heard(start, end)
        with reading(self._engine) as connection:
            kept = repository.incidents(connection, start, end)
            since = repository.instant_of(connection, repository.BEGAN)
            activity = load_activity(
                connection, start, end, names_of_ids=self._ids, quiet_log_s=self._station.timers.quiet_log_s
            )
        replayed = self._unwatched(history, start, end, since, kept)
        counted = sp.difference(keyed(activity.sent, self._station.timers_for_figures()), activity.blind)
        blind = sp.clip(activity.blind, start, end)
        told = self._names.of_incident
        return LookBack(
            unfinished=[at for at in history.unfinished.tolist() if start <= at < end],
            blind=blind,
            counted=counted,
            kept=[told(one) for one in kept],
            replayed=[told(one) for one in replayed],
            watched_since=since,
        )

    def _unwatched(
        self, history: History, start: int, end: int, since: int | None, kept: Sequence[State]
    ) -> list[Incident]:
        """What the rules find before the watch began. What stood raised when it began is the watch's to tell."""
        upto = end if since is None else min(end, since)
        known = {(one.rule, one.subject, one.raised) for one in kept}
        found = replay(history, start, upto, self._limits) if upto > start else []
        return [
            one
            for one in found
            if (one.rule, one.subject, one.raised) not in known and (since is None or one.cleared is not None)
        ]

    def lately(self, start: int, now: int) -> Lately:
        with reading(self._engine) as connection:
            kept = repository.incidents(connection, None, now)
            since, until = (
                repository.instant_of(connection, repository.BEGAN),
                repository.instant_of(connection, repository.WATCHED),
            )
        found = (
            []
            if since is not None and since <= start
            else self._unwatched(self._heard(start, now), start, now, since, kept)
        )
        told = self._names.of_incident
        every: list[State | Incident] = [*map(told, kept), *map(told, found)]
        every.sort(key=lambda one: one.raised)
        return Lately(
            standing=[one for one in every if one.cleared is None],
            over=[one for one in every if one.cleared is not None and max(one.raised, one.cleared) >= start],
            watched=None if since is None else (since, until if until is not None else since),
        )

    def raised(self, start: int | None, end: int | None) -> Sequence[State]:
        with reading(self._engine) as connection:
            return repository.incidents(connection, start, end)

    def standing(self) -> Sequence[State] | None:
        with reading(self._engine) as connection:
            if repository.instant_of(connection, repository.BEGAN) is None:
                return None
            return [State(*row) for row in record.incidents_standing(connection)]

    def failing(self) -> Sequence[Failing]:
        with reading(self._engine) as connection:
            return deliveries.failing(connection)

    def would_raise(self, width: Width, quiet: bool, limit: float, start: int, end: int) -> int:
        given = self._limits.duty_night if quiet else self._limits.duty_day
        changed = {**given, width: limit}
        limits = replace(self._limits, duty_night=changed) if quiet else replace(self._limits, duty_day=changed)
        found = replay(self._heard(start, end), start, end, limits, only="duty")
        return sum(one.subject == "transmitter" for one in found)

    def incident(self, number: int) -> State | None:
        with reading(self._engine) as connection:
            state = repository.incident(connection, number)
        return state and self._names.of_incident(state)

    def acknowledge(self, number: int, now: int) -> bool:
        with writing(self._engine) as connection:
            return repository.acknowledge(connection, number, now) is not None

    def _heard(self, start: int, end: int) -> History:
        """What was heard, the last stretch kept: the page and its form ask about the same one."""
        with self._lock:
            if self._kept is None or self._kept[0] != (start, end):
                with reading(self._engine) as connection:
                    history = load_history(connection, start - MEMORY - DAY, end, self._station, self._ids)
                self._kept = ((start, end), history.upto(end))
            return self._kept[1]
