"""The days from which reception stays elsewhere: their sizes, what kind they are, and in which hours they hold
(docs/definitions.md, Reception). Pure.
"""

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints
from server.analytics.figure_types import Json
from server.analytics.intervals import Z
from server.analytics.polish import (
    LEAST_STATIONS,
    Common,
    Floats,
    Overs,
    Readings,
    common_of,
    draws,
    interval,
    medians,
    where_enough,
)
from server.analytics.reception_hours import PARTS, arc_of, inside
from server.analytics.segments import NEAR, Step, steps
from shared.events import MODES

FEWEST = 5  # stations of a mode, or of some hours, for a size of their own
STAYS = 7  # days
LEAST_DB, LEAST_PCT = 1.5, 0.5
CALM = 6  # days vary by at least the least change over this
SAME_DAY = 3  # days within which a step of level and one of errors are one change
LEAST_SIDE = 3  # readings that a pair needs on each side of a change


class Kind(StrEnum):
    """What a change is."""

    DEAF = "deaf"  #: levels fell
    BETTER = "better"  #: levels rose, or errors fell and levels did not
    NOISE = "noise"  #: errors rose and levels did not fall


@dataclass(frozen=True)
class Size:
    """Of a change, with its 95 % interval."""

    size: float
    low: float
    high: float

    def counts(self, least: float) -> bool:
        """Whether it is large enough, and sure."""
        return abs(self.size) >= least and (self.low > 0 or self.high < 0)

    def beyond(self, least: float) -> bool:
        """Whether its whole interval is."""
        return self.low >= least or self.high <= -least

    def apart_from(self, other: "Size") -> bool:
        """Whether it is more than twice as large, and their intervals do not meet."""
        return abs(other.size) < abs(self.size) / 2 and (self.low > other.high or self.high < other.low)


@dataclass(frozen=True)
class Change:
    """A day from which the shift stays elsewhere."""

    day: dt.date
    earliest: dt.date
    latest: dt.date
    level: Size | None
    errors: Size | None
    kind: Kind
    hours: tuple[int, ...] | None  #: the local clock hours in which alone it holds, one after the other; None: in all
    modes: dict[str, float]  #: size in dB of the modes of which five stations or more tell

    def as_json(self) -> Json:
        level = self.level
        return {
            "day": self.day.isoformat(),
            "earliest": self.earliest.isoformat(),
            "latest": self.latest.isoformat(),
            "shift_db": None if level is None else level.size,
            "low_db": None if level is None else level.low,
            "high_db": None if level is None else level.high,
            "errors_pct": None if self.errors is None else self.errors.size,
            "kind": str(self.kind),
            "hours": None if self.hours is None else list(self.hours),
            "modes": self.modes,
        }


@dataclass(frozen=True)
class Series:
    """Readings of regulars, with what of each measure they have in common."""

    readings: Readings
    level: Common
    errors: Common

    def measures(self) -> Iterator[tuple[Floats, Common, float]]:
        """Level and errors: the table, what is common, the least change."""
        yield self.readings.level, self.level, LEAST_DB
        yield self.readings.errors, self.errors, LEAST_PCT

    def of(self, readings: Readings) -> "Series":
        """Of other readings of the same rows, by the usual levels that they have here."""
        parts = []
        for table, common in ((readings.level, self.level), (readings.errors, self.errors)):
            rest = table - common.usual[:, None]
            parts.append(Common(where_enough(medians(rest, 0), ~np.isnan(rest), readings.station), common.usual))
        return Series(readings, *parts)


def series_of(overs: Overs) -> Series:
    """Of the regulars' overs, by whole days."""
    regular = overs.readings()
    return Series(regular, *(common_of(table, regular.station) for table in (regular.level, regular.errors)))


@dataclass(frozen=True)
class Broken:
    """A step of a series, on the days of which it is known."""

    series: Series
    known: Ints
    step: Step
    least: int = LEAST_SIDE  #: readings that a pair needs on each side

    @property
    def place(self) -> int:
        """The index of its day."""
        return int(self.known[self.step.place])

    def size(self, table: Floats, station: Ints, stations: int = LEAST_STATIONS) -> Size | None:
        """By how much the pairs' own medians differ before and after, over 14 known days on each side: the median over
        pairs, with an interval by drawing stations, widened by how much the days vary that all have in common. None
        with too few stations.
        """
        known, step = self.known, self.step
        before = table[:, known[max(step.low, step.place - NEAR)] : known[step.place]]
        after = table[:, known[step.place] : known[min(step.high, step.place + NEAR) - 1] + 1]
        enough = np.minimum((~np.isnan(before)).sum(axis=1), (~np.isnan(after)).sum(axis=1)) >= self.least
        if len(np.unique(station[enough])) < stations:
            return None
        moved = medians(after[enough], 1) - medians(before[enough], 1)
        size = float(np.median(moved))
        low, high = interval(moved, draws(station[enough]))
        days = Z * _common_error(before[enough], after[enough])
        return Size(size, size - math.hypot(size - low, days), size + math.hypot(high - size, days))

    def sizes(self, stations: int = LEAST_STATIONS) -> tuple[Size | None, Size | None]:
        """Of the level and of the errors."""
        mine = self.series.readings
        return self.size(mine.level, mine.station, stations), self.size(mine.errors, mine.station, stations)


def changes(overs: Overs, whole: Series, dates: Sequence[dt.date]) -> list[Change]:
    """The changes of the regulars' overs, in order; `whole` are their readings of whole days. Steps of level and of
    errors within three days are one. What no whole day shows is looked for in parts of the day.
    """
    found: list[Change] = []
    for broken in _breaks(whole):
        if not _is_told(dates[broken.place], found, SAME_DAY):
            found.append(_in_its_hours(broken, overs, dates) or _change(broken, dates, None))
    in_parts = [broken for part in PARTS for broken in _breaks(at_hours(overs, part, whole), FEWEST, 1)]
    for broken in sorted(in_parts, key=lambda one: -one.step.sure):
        if not _is_told(dates[broken.place], found, STAYS):
            found += [
                one for one in [_in_its_hours(broken, overs, dates)] if one and not _is_told(one.day, found, STAYS)
            ]
    return sorted(found, key=lambda one: one.day)


def level_changes(regular: Readings, dates: Sequence[dt.date]) -> list[Change]:
    """The changes of the level of whole days, in order."""
    nothing = np.full_like(regular.errors, np.nan)
    readings = Readings(regular.station, regular.mode, regular.level, nothing)
    series = Series(readings, common_of(regular.level, regular.station), common_of(nothing, regular.station))
    return [_change(broken, dates, None) for broken in _breaks(series)]


def _is_told(day: dt.date, found: Sequence[Change], within: int) -> bool:
    return any(abs((day - one.day).days) <= within for one in found)


def at_hours(overs: Overs, hours: npt.NDArray[np.bool_], whole: Series) -> Series:
    """What is heard in some local hours, shape (24,)."""
    return whole.of(overs.of(hours[overs.hour]).readings())


def _breaks(series: Series, stations: int = LEAST_STATIONS, least: int = LEAST_SIDE) -> Iterator[Broken]:
    """The steps of the level, then those of the errors, that are large enough and sure."""
    for table, common, smallest in series.measures():
        known = np.flatnonzero(~np.isnan(common.shift))
        for step in steps(common.shift[known], STAYS, smallest / CALM):
            broken = Broken(series, known, step, least)
            size = broken.size(table, series.readings.station, stations)
            if size is not None and size.counts(smallest):
                yield broken


def _in_its_hours(broken: Broken, overs: Overs, dates: Sequence[dt.date]) -> Change | None:
    """The change as it is in the hours in which alone it holds; None where there are no such hours."""
    low, high = int(broken.known[broken.step.low]), int(broken.known[broken.step.high - 1]) + 1
    near = overs.of((overs.day >= low) & (overs.day < high))
    for number, (_, common, smallest) in enumerate(broken.series.measures()):
        arc = arc_of(near, (near.rssi_dbm, near.ber_pct)[number] - common.usual[near.row], broken.place)
        if arc is None:
            continue
        mine = _nearest(_breaks(at_hours(overs, inside(arc), broken.series), FEWEST, 1), broken.place)
        if mine is None:
            continue
        others = Broken(at_hours(overs, ~inside(arc), broken.series), np.arange(len(dates)), _whole_days(mine))
        here, elsewhere = mine.sizes(FEWEST)[number], others.sizes(FEWEST)[number]
        if here and elsewhere and here.counts(smallest) and here.apart_from(elsewhere):
            return _change(mine, dates, arc)
    return None


def _nearest(found: Iterator[Broken], place: int) -> Broken | None:
    near = [one for one in found if abs(one.place - place) <= STAYS]
    return min(near, key=lambda one: abs(one.place - place), default=None)


def _whole_days(broken: Broken) -> Step:
    """The same step, on a calendar of which every day is known."""
    known, step = broken.known, broken.step
    return Step(
        broken.place, int(known[step.first]), int(known[step.latest]), int(known[step.low]),
        int(known[step.high - 1]) + 1, step.sure,
    )  # fmt: skip


def _change(broken: Broken, dates: Sequence[dt.date], hours: tuple[int, ...] | None) -> Change:
    regular, step = broken.series.readings, broken.step
    level, errors = broken.sizes()
    modes = {}
    for mode in np.unique(regular.mode).tolist():
        mine = regular.where(regular.mode == mode)
        size = broken.size(mine.level, mine.station, FEWEST)
        if size is not None:
            modes[MODES[mode]] = size.size
    return Change(
        day=dates[broken.place],
        earliest=dates[broken.known[step.first - 1] + 1],  # the day after the last one that is surely of before
        latest=dates[broken.known[step.latest]],
        level=level,
        errors=errors,
        kind=_kind(level, errors),
        hours=hours,
        modes=modes,
    )


def _kind(level: Size | None, errors: Size | None) -> Kind:
    if level is not None and level.counts(LEAST_DB):
        return Kind.DEAF if level.size < 0 else Kind.BETTER
    return Kind.NOISE if errors is not None and errors.size > 0 else Kind.BETTER


def _common_error(before: Floats, after: Floats) -> float:
    """The standard error that the days' own noise gives to a difference of two stretches of them."""
    square = 0.0
    for part in (before, after):
        common = medians(part - medians(part, 1)[:, None], 0)
        common = common[~np.isnan(common)]
        rest = common - common.mean()
        alike = float((rest[1:] * rest[:-1]).sum()) / max(float((rest**2).sum()), 1e-12)
        alike = min(max(alike, 0.0), 0.8)
        square += float(rest.var(ddof=1)) / len(common) * (1 + alike) / (1 - alike) if len(common) > 1 else 0.0
    return math.sqrt(square)
