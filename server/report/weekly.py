"""The week's verdict as a notice on Monday morning: once, whatever is restarted or killed.

The notice goes into the outbox in the transaction that marks its week as told. Of weeks that went by while airtally was
stopped only the last one is told."""

import datetime as dt
from collections.abc import Callable, Sequence

from server.alerts.load import limits_of
from server.alerts.notices import Notice
from server.alerts.repository import Channel, enqueue
from server.config import Station
from server.service import Worker
from server.store.engine import Store, writing
from server.store.facts import read_fact, set_fact
from shared.zones import from_us

HOUR_OF_DAY = 6  #: local; the last lines of Sunday have come by then
LOOK_S = 30.0
LONGEST_S = 300.0
NEXT = "week notice next"  #: the fact: the Monday of the first week that was not told yet
WEEK = dt.timedelta(weeks=1)

Tell = Callable[[dt.date], tuple[str, str] | None]


class WeeklyNews:
    """Tells a station's weeks until it is stopped."""

    def __init__(
        self,
        engine: Store,
        station: Station,
        channels: Sequence[Channel],
        clock: Callable[[], int],
        tell: Tell,
        all_read: Callable[[], bool] = lambda: True,
    ) -> None:
        """`clock` gives microseconds UTC; `tell` the title and body of the week that begins on a Monday, None where it
        was not seen; nothing is told until `all_read`. Raises StationFileError.
        """
        self._engine, self._station, self._channels = engine, station, channels
        self._clock, self._tell, self._all_read = clock, tell, all_read
        self._limits = limits_of(station)
        self.worker = Worker("week", "Telling the week", self._round, LONGEST_S)

    def _round(self) -> float:
        if self._all_read():
            self.look()
        return LOOK_S

    def look(self) -> None:
        """Tell what is due. The first look of all is the beginning: weeks that were over before it are not told, but
        for that of the day. Raises StoreError.
        """
        now = self._clock()
        local = from_us(now, self._station.zone)
        this = local.date() - dt.timedelta(days=local.weekday())
        due = this - WEEK if (local.weekday(), local.hour) >= (0, HOUR_OF_DAY) else this - 2 * WEEK
        if self._first_untold(this if local.weekday() else this - WEEK) > due or self._limits.quiet_at(now):
            return
        told = self._tell(due)
        with writing(self._engine) as connection:
            following = read_fact(connection, NEXT)
            if following is not None and dt.date.fromisoformat(following) > due:
                return  # another airtally told it
            if told is not None:
                enqueue(connection, [Notice(None, "week", *told)], self._channels, now)
            set_fact(connection, NEXT, str(due + WEEK))

    def _first_untold(self, beginning: dt.date) -> dt.date:
        with writing(self._engine) as connection:
            following = read_fact(connection, NEXT)
            if following is None:
                set_fact(connection, NEXT, str(beginning))
            return beginning if following is None else dt.date.fromisoformat(following)
