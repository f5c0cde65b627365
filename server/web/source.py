"""What the pages ask of the store. Instants are microseconds since 1970 UTC, windows half-open [start, end).

Every method may block (pages call them in a thread) and raises StoreError, with one plain sentence, where the store
can't be read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.alerts.queries import AlertQueries
from server.analytics.activity import Activity
from server.analytics.explored import Explored
from server.analytics.exposure import Exposure
from server.analytics.figure_types import Figures
from server.analytics.links import Links
from server.analytics.moment_types import Moment
from server.analytics.overruns import Overrun
from server.analytics.reception import Reception
from server.intake.overview import LogRead
from server.report.month import Month
from server.service import Health
from server.store.notes import Note
from server.store.timers import TimerChange
from server.telling.moment_sentences import Logged
from server.telling.targets import TargetNames
from shared.timers import Timers

if TYPE_CHECKING:
    import polars as pl


class Station(Protocol):
    """Whose pages these are."""

    @property
    def callsign(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def zone(self) -> ZoneInfo: ...
    @property
    def timers(self) -> Timers: ...
    @property
    def names(self) -> TargetNames: ...


@dataclass(frozen=True)
class Sums:
    """What a mode, or the channel, adds up to in a week."""

    airtime_s: float = 0.0
    shut_outs: float = 0.0  #: suffered
    timeouts: float = 0.0  #: counted
    timeouts_estimated: float = 0.0  #: inferred, where the log names no cause


@dataclass(frozen=True)
class WeekBefore:
    """An earlier window of the same kind."""

    start_us: int
    end_us: int
    seen: float  #: share of it that was not blind, 0 to 1; 0 where no log reaches into it
    sums: Mapping[str, Sums]  #: by mode word, or CHANNEL; a mode that is not there had none of anything


class Source(Protocol):
    """The store, as the pages see it."""

    def version(self) -> str:
        """Changes whenever anything in the store changes. Cheap: asked at every request."""
        ...

    def station(self) -> Station: ...

    def health(self) -> Health:
        """Which parts of the running program don't do their work now. Never raises."""
        ...

    def figures(self, start_us: int, end_us: int) -> Figures:
        """The figures of a window."""
        ...

    def exposure(self, start_us: int, end_us: int) -> Exposure:
        """The screening sheet, from the worst keyed shares of a window."""
        ...

    def reception(self, start_us: int, end_us: int) -> Reception:
        """How well the repeater hears, by day of a window."""
        ...

    def links(self, start_us: int, end_us: int) -> Links:
        """Each link over a window; silences by the 13 weeks up to its end."""
        ...

    def moment(self, at_us: int, wanted: str | None) -> Moment:
        """What held the repeater at an instant, for a caller of a mode if one is asked for."""
        ...

    def logged(self) -> Logged:
        """How far the logs reach, and the present."""
        ...

    def explored(self, spans: Sequence[tuple[int, int]]) -> Explored:
        """What adds up in consecutive spans, which begin and end with local hours; from tallies."""
        ...

    def hour_of_week(self, start_us: int, end_us: int, column: str) -> npt.NDArray[np.float64]:
        """Means by local hour of the week (7, 24) of a column of the channel's tallies, per hour that was seen."""
        ...

    def nameless_overs(self, start_us: int, end_us: int) -> "pl.DataFrame":
        """The finished overs that begin in a window, without what names people."""
        ...

    def lines_read(self) -> Mapping[str, int]:
        """Lines of all logs since they were first read, by what became of them. Cheap."""
        ...

    def weeks_before(self, start_us: int, n: int) -> Sequence[WeekBefore]:
        """The n local calendar weeks that end at `start_us`, newest first."""
        ...

    def day_hour_map(self, start_us: int, end_us: int) -> npt.NDArray[np.float64]:
        """Channel airtime in seconds, shape (local days, 24); nan where the day has no such hour. An hour that comes
        twice holds both.
        """
        ...

    def month(self, name: str) -> Month:
        """A month, 2026-10, as the report has it; ValueError where the name is no month."""
        ...

    def longest_over(self, start_us: int, end_us: int) -> Overrun | None: ...

    def activity(self, start_us: int, end_us: int) -> Activity:
        """The columns of a window, and MARGIN around it."""
        ...

    def notes(self) -> Sequence[Note]:
        """The keeper's notes, and the changes of timers as one kind of them, oldest first."""
        ...

    def add_note(self, at_us: int, kind: str, text: str, for_committee: bool) -> None:
        """Keep one; ValueError where it says nothing or too much, or is of no known kind."""
        ...

    def drop_note(self, number: int) -> bool:
        """Take one away; False where there is none of that number."""
        ...

    def timer_changes(self) -> Sequence[TimerChange]:
        """Changes of the timers that the keeper has confirmed, oldest first."""
        ...

    def add_timer_change(self, at_us: int, note: str) -> None:
        """Keep one; ValueError where the note says nothing or too much."""
        ...

    def alerts(self) -> AlertQueries:
        """What the Transmitter page asks."""
        ...

    def intake(self) -> Sequence[LogRead]:
        """Every log that the station file names, also one of which nothing was found."""
        ...

    def first_and_last(self) -> tuple[int, int] | None:
        """The instants of the first and the last line that was read; None where none was."""
        ...

    def now(self) -> int: ...

    def stands_still(self) -> bool:
        """Whether the clock stands still, as the demo's: then nothing is watched."""
        ...
