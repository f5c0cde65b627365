"""The live watch: woken by intake and by the clock, it asks the rules and puts what is to be said into the outbox."""

import os
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from server.alerts.disk_and_clock import DiskAndClock, watch_disk_and_clock
from server.alerts.engine import run
from server.alerts.limits import MINUTE
from server.alerts.load import Memory, limits_of
from server.alerts.notices import notices_of
from server.alerts.outbox import Outbox
from server.alerts.repository import (
    WATCHED,
    Channel,
    enqueue,
    instant_of,
    keep_states,
    load_states,
    mark_watched,
    reconcile,
)
from server.alerts.states import speak
from server.alerts.unread_logs import LogCounts, watch_unread_logs
from server.config import Station
from server.service import Worker
from server.store.engine import Connection, Store, sqlite_file, writing
from server.store.logs import latest_stamp, log_counts
from server.telling.targets import TargetNames
from shared.zones import DAY, SECOND

AWAY = 7 * DAY  # a longer absence is not looked through again
LONGEST_S = 120.0  # without a look
WAIT_FOR_INTAKE_S = 0.5
FAR_AHEAD = DAY  # a stamp further beyond the clock is a clock that was wrong


class Watch:
    """Asks the rules until it is stopped. `clock` gives microseconds UTC, `steady` seconds of a clock that nobody
    sets.
    """

    def __init__(
        self,
        engine: Store,
        station: Station,
        channels: Sequence[Channel],
        outbox: Outbox,
        clock: Callable[[], int],
        steady: Callable[[], float] = time.monotonic,
        caught_up: threading.Event | None = None,
    ) -> None:
        """`caught_up` is set while no log is half read: an over may be open in the store only because its end was not
        read yet. Raises StationFileError.
        """
        self._engine = engine
        self._station = station
        self._channels = channels
        self._outbox = outbox
        self._clock = clock
        self._steady = steady
        self._caught_up = caught_up
        self._limits = limits_of(station)
        self._names = TargetNames(station.target)
        self._memory = Memory(station, station.names_of_ids())
        self._looked: tuple[int, float] | None = None  # both clocks at the last look
        self.worker = Worker("watch", "Watching by the alert rules", self._round, LONGEST_S, steady=steady)
        self.due: int | None = None  #: the next instant at which an over becomes too long

    def wake(self) -> None:
        """Lines came."""
        self.worker.wake()

    def _round(self) -> float:
        """Seconds until the next look: to the next minute, or to when an over becomes too long."""
        if self._caught_up is not None and not self._caught_up.is_set():
            return WAIT_FOR_INTAKE_S
        self.look()
        now = self._clock()
        tick = (now // MINUTE + 1) * MINUTE
        return max(0.01, (min(tick, self.due or tick) - now) / SECOND)

    def look(self) -> None:
        """Ask the rules once, up to now; what they raise, what is to be said of it, and how far they got commit
        together.
        """
        now, steady = self._clock(), self._steady()
        with writing(self._engine) as connection:
            last = instant_of(connection, WATCHED)
            after = max(last, now - AWAY) if last is not None and last < now else now - 1
            open_now = {
                (one.rule, one.subject): one.raised for one in load_states(connection, now) if one.cleared is None
            }
            history = self._memory.history(connection, now)
            found = run(history, after, now, self._limits, open_now)
            machine = self._machine(connection, now, steady)
            found += watch_disk_and_clock(machine, now, self._limits, open_now)
            logs = [LogCounts(*log) for log in log_counts(connection)]
            found += watch_unread_logs(logs, now, open_now)
            reconcile(connection, found, last if last is not None else now, now)
            spoken, changed = speak(load_states(connection, now), now, self._limits)
            keep_states(connection, changed)
            told = [replace(one, state=self._names.of_incident(one.state)) for one in spoken]
            callsign = self._station.repeater.callsign
            notices = notices_of(told, now, callsign, self._station.zone, self._station.web.address)
            enqueue(connection, notices, self._channels, now)
            mark_watched(connection, now)
        open_starts = history.start[(history.told > now) & (history.start <= now) & ~history.whole]
        due = open_starts + self._limits.timeout + self._limits.grace
        self.due = int(due[due > now].min(initial=now + DAY)) if len(due) else None
        self._looked = (now, steady)
        if spoken:
            self._outbox.wake()

    def _machine(self, connection: Connection, now: int, steady: float) -> DiskAndClock:
        file = sqlite_file(self._engine)
        free = None
        if file is not None:
            room = os.statvfs(file.parent)
            free = room.f_bavail * room.f_frsize
        jump = 0
        if self._looked is not None:
            jump = (now - self._looked[0]) - round((steady - self._looked[1]) * SECOND)
        latest = latest_stamp(connection)
        ahead = max(0, latest - now) if latest is not None and latest < now + FAR_AHEAD else 0
        return DiskAndClock(free, jump, ahead)
