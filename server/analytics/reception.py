"""How well the repeater hears, by the stations that it hears again and again (docs/definitions.md, Reception). Pure.

Stations are instruments here: nothing that leaves this module tells of one.
"""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints
from server.analytics.figure_types import Json, Stretch
from server.analytics.intervals import Z
from server.analytics.polish import Floats, Heard, Readings, draws, interval, medians, polished, readings
from server.analytics.segments import NEAR, Step, steps
from shared.events import MODES

WEEKS_13 = 91  # days
REGULAR_DAYS = 10
LEAST_STATIONS = 3  # heard on a day, for its shift
MODE_STATIONS = 5  # of a mode, for its own size of a change
BASE_DAYS = 28
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
class Day:
    """A local day: what the regulars had in common; None where fewer than three were heard."""

    day: dt.date
    shift_db: float | None
    low_db: float | None
    high_db: float | None
    errors_pct: float | None
    stations: int  #: regulars' stations that were heard

    def as_json(self) -> Json:
        return asdict(self) | {"day": self.day.isoformat()}


@dataclass(frozen=True)
class Size:
    """Of a change, with its 95 % interval."""

    size: float
    low: float
    high: float

    def counts(self, least: float) -> bool:
        """Whether it is large enough, and sure."""
        return abs(self.size) >= least and (self.low > 0 or self.high < 0)


@dataclass(frozen=True)
class Change:
    """A day from which the shift stays elsewhere."""

    day: dt.date
    earliest: dt.date
    latest: dt.date
    level: Size | None
    errors: Size | None
    kind: Kind
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
            "hours": None,
            "modes": self.modes,
        }


@dataclass(frozen=True)
class Reception:
    """Reception over a window."""

    window: Stretch
    regulars: int  #: pairs of station and mode
    readings: int  #: of any pair, in the window
    levels: bool  #: whether any over tells its level
    days: tuple[Day, ...]
    changes: tuple[Change, ...]

    def as_json(self) -> Json:
        """Just what `airtally reception --json` prints."""
        return {
            "window": self.window.as_json(),
            "regulars": self.regulars,
            "readings": self.readings,
            "days": [one.as_json() for one in self.days],
            "changes": [one.as_json() for one in self.changes],
        }


def reception(window: Stretch, heard: Heard, dates: Sequence[dt.date], edges: Ints) -> Reception:
    """From the overs of the local days that are looked at, with the midnights around each, shape (days + 1,); of these
    the days of the window are told.
    """
    every = readings(heard, edges)
    told = (edges[:-1] < window.end_us) & (edges[1:] > window.start_us)
    regular = every.where(regulars(every.heard()[:, edges[:-1] < window.end_us]))
    common, days = _days(regular, dates)
    return Reception(
        window,
        len(regular.station),
        int(every.heard()[:, told].sum()),
        bool((~np.isnan(heard.rssi_dbm)).any()),
        tuple(day for day, one in zip(days, told, strict=True) if one),
        tuple(one for one in changes(regular, dates, *common) if told[dates.index(one.day)]),
    )


def regulars(heard: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Which pairs have readings on ten days or more of some 13 weeks, shape (pairs,), by the days on which each was
    heard,
    shape (pairs, days).
    """
    sums = np.concatenate([np.zeros((len(heard), 1), dtype=np.int64), np.cumsum(heard, axis=1)], axis=1)
    width = min(WEEKS_13, heard.shape[1])
    return np.asarray((sums[:, width:] - sums[:, :-width]).max(axis=1, initial=0) >= REGULAR_DAYS)


def _days(regular: Readings, dates: Sequence[dt.date]) -> tuple[tuple[Floats, Floats], list[Day]]:
    """The shifts of level and of errors, nan where they are not known, and the days."""
    count = np.zeros(len(dates), dtype=np.int64)
    for station in np.unique(regular.station):
        count += regular.heard()[regular.station == station].any(axis=0)
    shifts: list[Floats] = []
    low, high = np.full((2, len(dates)), np.nan)
    for table in (regular.level, regular.errors):
        shift, rest = _shift(table, regular.station)
        base = medians(shift[None, :BASE_DAYS], 1)[0]
        base = medians(shift[None], 1)[0] if np.isnan(base) else base
        shifts.append(shift - base)
        if table is regular.level:
            low, high = _intervals(rest - base, regular.station, shift)
    days = [
        Day(
            date, _known(shifts[0][place]), _known(low[place]), _known(high[place]), _known(shifts[1][place]),
            int(count[place]),
        )
        for place, date in enumerate(dates)
    ]  # fmt: skip
    return (shifts[0], shifts[1]), days


def _known(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def _shift(table: Floats, station: Ints) -> tuple[Floats, Floats]:
    """What the rows have in common each day, nan with fewer than three stations, and each row without its usual
    level.
    """
    told = ~np.isnan(table)
    some = told.any(axis=1)
    if not some.any():
        return np.full(table.shape[1], np.nan), table
    usual = np.full(len(table), np.nan)
    usual[some], common = polished(table[some])
    stations = sum((told[station == one].any(axis=0).astype(np.int64) for one in np.unique(station)), np.zeros(1))
    return np.where(stations >= LEAST_STATIONS, common, np.nan), table - usual[:, None]


def _intervals(rest: Floats, station: Ints, shift: Floats) -> Floats:
    """The 95 % interval of each day's shift by drawing stations, shape (2, days)."""
    found = np.full((2, len(shift)), np.nan)
    for day in np.flatnonzero(~np.isnan(shift)).tolist():
        rows = ~np.isnan(rest[:, day])
        found[:, day] = interval(rest[rows, day], draws(station[rows]))
    return found


def changes(regular: Readings, dates: Sequence[dt.date], level: Floats, errors: Floats) -> list[Change]:
    """The changes of the shifts, in order; those of level and of errors within three days are one."""
    found: list[Change] = []
    for shift, table, least in ((level, regular.level, LEAST_DB), (errors, regular.errors, LEAST_PCT)):
        known = np.flatnonzero(~np.isnan(shift))
        for step in steps(shift[known], STAYS, least / CALM):
            size = _size(table, regular.station, known, step)
            day = dates[known[step.place]]
            if size is None or not size.counts(least) or any(abs((day - one.day).days) <= SAME_DAY for one in found):
                continue
            found.append(_change(regular, dates, known, step))
    return sorted(found, key=lambda one: one.day)


def _change(regular: Readings, dates: Sequence[dt.date], known: Ints, step: Step) -> Change:
    level, errors = (_size(table, regular.station, known, step) for table in (regular.level, regular.errors))
    modes = {}
    for mode in np.unique(regular.mode).tolist():
        mine = regular.where(regular.mode == mode)
        size = _size(mine.level, mine.station, known, step, MODE_STATIONS)
        if size is not None:
            modes[MODES[mode]] = size.size
    return Change(
        day=dates[known[step.place]],
        earliest=dates[known[step.first - 1] + 1],  # the day after the last one that is surely of before
        latest=dates[known[step.latest]],
        level=level,
        errors=errors,
        kind=_kind(level, errors),
        modes=modes,
    )


def _kind(level: Size | None, errors: Size | None) -> Kind:
    if level is not None and level.counts(LEAST_DB):
        return Kind.DEAF if level.size < 0 else Kind.BETTER
    return Kind.NOISE if errors is not None and errors.size > 0 else Kind.BETTER


def _size(table: Floats, station: Ints, known: Ints, step: Step, least: int = LEAST_STATIONS) -> Size | None:
    """By how much the pairs' own medians differ before and after, over 14 days on each side: the median over pairs,
    with
    an interval by drawing stations, widened by how much the days vary that all have in common. None with too few
    stations.
    """
    before = table[:, known[max(step.low, step.place - NEAR)] : known[step.place]]
    after = table[:, known[step.place] : known[min(step.high, step.place + NEAR) - 1] + 1]
    enough = ((~np.isnan(before)).sum(axis=1) >= LEAST_SIDE) & ((~np.isnan(after)).sum(axis=1) >= LEAST_SIDE)
    if len(np.unique(station[enough])) < least:
        return None
    moved = medians(after[enough], 1) - medians(before[enough], 1)
    size = float(np.median(moved))
    low, high = interval(moved, draws(station[enough]))
    days = Z * _common_error(before[enough], after[enough])
    return Size(size, size - math.hypot(size - low, days), size + math.hypot(high - size, days))


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
