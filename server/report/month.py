"""One month of a repeater in one object: the PDF, the Month page and the tests all show this. Nothing in it tells of a
person."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.analytics.compare import Change
from server.analytics.exposure import Exposure
from server.analytics.figure_types import Figures
from server.analytics.overruns import Overrun
from server.analytics.shorter_hold import ShorterHold
from server.telling.moments import MONTHS
from server.telling.period import NamedLink, WideTalk
from shared.timers import Timers

TREND = 13  #: months of the trend, this one the last


@dataclass(frozen=True)
class Incident:
    """Something that an alert was raised for: its rule (docs/contract.md, alerts), the mode, slot or link concerned,
    and when; microseconds."""

    rule: str
    subject: str
    raised: int
    cleared: int | None
    urgent: bool = False
    began: int | None = None  # where that was before it was raised


@dataclass(frozen=True)
class MonthSums:
    """One month of the trend: share of it that was seen, airtime in seconds by mode ('' the channel), overs
    likewise."""

    name: str
    seen: float
    airtime_s: Mapping[str, float]
    overs: Mapping[str, int]


@dataclass(frozen=True)
class Completeness:
    """How much of the month is known."""

    seen: float  #: share of the month, or of what is over of it, that is logged and not blind
    over: bool  #: whether the month is over


@dataclass(frozen=True)
class SiteNote:
    """What was done at the station, with nobody named."""

    at: int  #: microseconds
    kind: str
    text: str


@dataclass(frozen=True)
class Month:
    """Everything that is told of a month."""

    name: str  #: 2026-10
    callsign: str  #: of the repeater
    place: str
    zone: ZoneInfo
    start: int  #: microseconds UTC, as are all instants here
    end: int
    figures: Figures  #: but for counts of small groups, which are withheld
    trend: tuple[MonthSums, ...]  #: TREND months, this one last
    changes: Mapping[str, Change]  #: airtime by mode, against the months before
    days: tuple[dt.date, ...]
    hours: tuple[
        tuple[float | None, ...], ...
    ]  #: seconds on the air by day and local clock hour; None where not seen, or no such hour
    links: tuple[NamedLink, ...]
    wide: tuple[WideTalk, ...]
    incidents: tuple[Incident, ...]
    watched: bool  #: whether alerts were watched then; otherwise the rules found these in the log afterwards
    completeness: Completeness
    shorter_hold: ShorterHold | None
    timers: Timers
    duty_rating: float
    overruns: tuple[Overrun, ...] = ()  #: the longest first; then those without an end
    exposure: Exposure | None = None  #: the screening sheet, where the settings ask for the annex
    grace_s: float = 10.0  #: beyond the time-out, after which an over is said to run on
    notes: tuple[SiteNote, ...] = ()  #: that the keeper wants the committee to read

    @property
    def title(self) -> str:
        """`October 2026`."""
        return month_title(self.name)


def month_title(name: str) -> str:
    """`October 2026` of `2026-10`."""
    year, number = name.split("-")
    return f"{MONTHS[int(number) - 1]} {year}"


def months_before(name: str, n: int) -> Sequence[str]:
    """The n months before one, the nearest first."""
    year, number = map(int, name.split("-"))
    places = [year * 12 + number - 1 - back for back in range(1, n + 1)]
    return [f"{place // 12:04d}-{place % 12 + 1:02d}" for place in places]


def month_after(name: str) -> str:
    """`2027-01` of `2026-12`."""
    year, number = map(int, name.split("-"))
    return f"{year + number // 12:04d}-{number % 12 + 1:02d}"
