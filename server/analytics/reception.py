"""How well the repeater hears, by the stations that it hears again and again (docs/definitions.md, Reception). Pure.

Stations are instruments here: nothing that leaves this module tells of one.
"""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints
from server.analytics.figure_types import Json, Stretch, Withheld
from server.analytics.planning import local_hours
from server.analytics.polish import (
    Common,
    Floats,
    Heard,
    Overs,
    draws,
    interval,
    medians,
    overs_of,
    stations_of,
)
from server.analytics.reception_changes import FEWEST, Change, Series, at_hours, changes, series_of
from server.analytics.reception_hours import inside
from shared.zones import DAY, HOUR

WEEKS_13 = 91  # days
REGULAR_DAYS = 10
BASE_DAYS = 28


def few_withheld(stations: int) -> int | Withheld:
    """A count for JSON, without telling of a small group."""
    return Withheld.FEWER if 0 < stations < FEWEST else stations


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
        return asdict(self) | {"day": self.day.isoformat(), "stations": few_withheld(self.stations)}


@dataclass(frozen=True)
class AirOvers:
    """Overs received by radio in a window."""

    every: int
    measured: int  #: of them, those that tell their level or their errors


@dataclass(frozen=True)
class Part:
    """What the days of the window have in common in some local hours, in which alone something changed."""

    hours: tuple[int, ...]
    level_db: tuple[float | None, ...]
    errors_pct: tuple[float | None, ...]


@dataclass(frozen=True)
class Reception:
    """Reception over a window."""

    window: Stretch
    regulars: int  #: pairs of station and mode
    readings: int  #: of any pair, in the window
    overs: AirOvers
    levels: bool  #: whether any over tells its level
    days: tuple[Day, ...]
    changes: tuple[Change, ...]
    parts: tuple[Part, ...] = ()  #: of the hours of changes, told on the page only

    def as_json(self) -> Json:
        """Just what `airtally reception --json` prints."""
        return {
            "window": self.window.as_json(),
            "regulars": few_withheld(self.regulars),
            "readings": self.readings,
            "days": [one.as_json() for one in self.days],
            "changes": [one.as_json() for one in self.changes],
        }


def reception(
    window: Stretch, heard: Heard, overs_by_radio: AirOvers, dates: Sequence[dt.date], edges: Ints
) -> Reception:
    """From the overs of the local days that are looked at, with the midnights around each, shape (days + 1,); of these
    the days of the window are told, as are the overs of which `heard` holds those of known station.
    """
    told = (edges[:-1] < window.end_us) & (edges[1:] > window.start_us)
    every = overs_of(heard, edges, local_hours_of(heard.start, edges, window.zone))
    read = every.readings().heard()
    overs = every.where(regulars(read[:, edges[:-1] < window.end_us]))
    series = series_of(overs)
    found = [one for one in changes(overs, series, dates) if told[dates.index(one.day)]]
    return Reception(
        window,
        len(overs.station),
        int(read[:, told].sum()),
        overs_by_radio,
        bool((~np.isnan(heard.rssi_dbm)).any()),
        tuple(day for day, one in zip(_days(series, dates), told, strict=True) if one),
        tuple(found),
        tuple(_part(hours, overs, series, told) for hours in dict.fromkeys(one.hours for one in found) if hours),
    )


def _part(hours: tuple[int, ...], overs: Overs, whole: Series, told: npt.NDArray[np.bool_]) -> Part:
    series = at_hours(overs, inside(hours), whole)
    level, errors = ((common.shift - _base(common))[told].tolist() for common in (series.level, series.errors))
    return Part(hours, tuple(map(_known, level)), tuple(map(_known, errors)))


def local_hours_of(instants: Ints, edges: Ints, zone: ZoneInfo) -> Ints:
    """The local clock hours of instants, of which days of 24 hours tell by themselves."""
    day = np.clip(np.searchsorted(edges, instants, side="right") - 1, 0, len(edges) - 2)
    hour: Ints = np.clip((instants - edges[day]) // HOUR, 0, 23)
    odd = (np.diff(edges) != DAY)[day]
    hour[odd] = local_hours(instants[odd], zone)
    return hour


def regulars(heard: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Which pairs have readings on ten days or more of some 13 weeks, shape (pairs,), by the days on which each was
    heard, shape (pairs, days).
    """
    sums = np.concatenate([np.zeros((len(heard), 1), dtype=np.int64), np.cumsum(heard, axis=1)], axis=1)
    width = min(WEEKS_13, heard.shape[1])
    return np.asarray((sums[:, width:] - sums[:, :-width]).max(axis=1, initial=0) >= REGULAR_DAYS)


def _days(series: Series, dates: Sequence[dt.date]) -> list[Day]:
    regular = series.readings
    count = stations_of(regular.heard(), regular.station)
    bases = [_base(common) for common in (series.level, series.errors)]
    low, high = _intervals(regular.level - series.level.usual[:, None] - bases[0], regular.station, series.level.shift)
    shift, errors = series.level.shift - bases[0], series.errors.shift - bases[1]
    return [
        Day(
            date, _known(shift[place]), _known(low[place]), _known(high[place]), _known(errors[place]),
            int(count[place]),
        )
        for place, date in enumerate(dates)
    ]  # fmt: skip


def _base(common: Common) -> float:
    """The middle of the first 28 days; of all, where these tell nothing."""
    base = medians(common.shift[None, :BASE_DAYS], 1)[0]
    return float(medians(common.shift[None], 1)[0] if np.isnan(base) else base)


def _known(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def _intervals(rest: Floats, station: Ints, shift: Floats) -> Floats:
    """The 95 % interval of each day's shift by drawing stations, shape (2, days)."""
    found = np.full((2, len(shift)), np.nan)
    for day in np.flatnonzero(~np.isnan(shift)).tolist():
        rows = ~np.isnan(rest[:, day])
        found[:, day] = interval(rest[rows, day], draws(station[rows]))
    return found
