"""Any stretch at any step, from hour tallies: what adds up, by mode and for the channel, as `figures` has it.

What is not known is None by the same rules as in `server/analytics/figures.py`: of what nobody saw, and of lengths
where only something without a known length went on."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints, Window
from server.analytics.local_spans import By
from shared.zones import DAY, SECOND, from_us

CHANNEL = ""
SEEN, UNFINISHED = "seen_us", "unfinished"
#: Columns of which the greatest is that of a stretch, with the length of the span that each is a share of.
DUTIES = {"duty_6_us": 360 * SECOND, "duty_30_us": 1800 * SECOND, "duty_60_us": 3600 * SECOND}
LENGTHS = ("airtime_us", "idle_hold_us", "held_us", "keyed_us", *DUTIES)
COUNTS = ("overs", "timeouts", "timeouts_estimated", "near_timeouts", "shut_outs", UNFINISHED)
MOST_STEPS = 135
#: The step of a stretch, from so many days on.
STEPS: tuple[tuple[float, By], ...] = ((900, "month"), (130, "week"), (5, "day"), (0, "hour"))


@dataclass(frozen=True)
class Loose:
    """What went on for nobody knows how long: ends without a start, and pages without a length. Instants, sorted."""

    orphans: Ints
    pages: Ints
    page_modes: tuple[str | None, ...]  #: of each page


@dataclass(frozen=True)
class Explored:
    """Sums over consecutive spans."""

    spans: tuple[Window, ...]
    sums: Mapping[str, Mapping[str, Ints]]  #: mode word or CHANNEL -> column of the tallies -> (spans,)
    endless: Mapping[str, Ints]  #: mode word or CHANNEL -> (spans,) what there was without a known length

    @property
    def modes(self) -> list[str]:
        """Those that were heard, in the order of the tallies."""
        return [mode for mode in self.sums if mode != CHANNEL]

    def values(self, mode: str, column: str) -> list[float | None]:
        """Of each span: seconds for a length, a share for the duties, a count otherwise. `seen_us` is known always."""
        none = np.zeros(len(self.spans), dtype=np.int64)
        seen = self.sums.get(CHANNEL, {}).get(SEEN, none)
        found = self.sums.get(mode, {}).get(column, none)
        known = seen > 0 if column != SEEN else np.ones(len(seen), dtype=bool)
        if column in LENGTHS:
            airtime = self.sums.get(mode, {}).get("airtime_us", none)
            zero = (found == 0) if mode == CHANNEL else np.ones(len(seen), dtype=bool)
            known &= ~((airtime == 0) & (self.endless.get(mode, none) > 0) & zero)
        scale = DUTIES.get(column, SECOND if column.endswith("_us") else 1)
        return [float(value) / scale if at else None for value, at in zip(found, known, strict=True)]

    def whole(self) -> "Explored":
        """The same as one span."""
        if not self.spans:
            return self
        add = {mode: {name: _one(name, values) for name, values in its.items()} for mode, its in self.sums.items()}
        endless = {mode: np.array([one.sum()]) for mode, one in self.endless.items()}
        return Explored(((self.spans[0][0], self.spans[-1][1]),), add, endless)

    def total(self, mode: str, column: str) -> float | None:
        return self.whole().values(mode, column)[0]


def _one(column: str, values: Ints) -> Ints:
    """Of all spans."""
    return np.array([values.max() if column in DUTIES else values.sum()])


def explored(
    spans: Sequence[Window], rows: Sequence[tuple[int, str, Sequence[int]]], columns: Sequence[str], loose: Loose
) -> Explored:
    """From sums by place of the span and mode. Columns are those of the tallies."""
    modes = sorted({CHANNEL, *(mode for _, mode, _ in rows)})
    sums = {mode: {name: np.zeros(len(spans), dtype=np.int64) for name in columns} for mode in modes}
    for place, mode, values in rows:
        for name, value in zip(columns, values, strict=True):
            sums[mode][name][place] = value
    edges = np.array([start for start, _ in spans], dtype=np.int64)
    endless = {mode: its[UNFINISHED].copy() for mode, its in sums.items()}
    for instants, of in ((loose.orphans, None), (loose.pages, loose.page_modes)):
        for place, at in enumerate(np.searchsorted(edges, instants, side="right") - 1):
            endless[CHANNEL][at] += 1
            if of is not None and of[place] in endless:
                endless[of[place] or CHANNEL][at] += 1
    return Explored(tuple(spans), sums, endless)


def step_of(window: Window) -> By:
    """The step at which a stretch is shown, so that there are no more than MOST_STEPS."""
    days = (window[1] - window[0]) / DAY
    return next(by for least, by in STEPS if days > least)


def shifted(spans: Sequence[Window], weeks: int, zone: ZoneInfo) -> list[Window]:
    """The same local times so many whole weeks earlier: the same days of the week, whatever the clocks did between.

    Where a clock change took an hour away, the span that would begin in it has no length."""
    return _earlier(spans, dt.timedelta(weeks=weeks), zone)


def beside(spans: Sequence[Window], second: Window, zone: ZoneInfo) -> list[Window]:
    """A second stretch in the steps of the first, each as far by the local clock from its beginning. Steps beyond its
    end have no length; what it has beyond them is one step more.
    """
    start, end = second
    moved = _earlier(spans, wall(spans[0][0], zone) - wall(start, zone), zone)
    edges = [start, *(min(max(after, start), end) for _, after in moved)]
    found = list(pairwise(edges))
    return found if edges[-1] == end else [*found, (edges[-1], end)]


def wall(us: int, zone: ZoneInfo) -> dt.datetime:
    """What the local clock shows, without a zone: differences of these know no clock change."""
    return from_us(us, zone).replace(tzinfo=None, fold=0)


def year_before(us: int, zone: ZoneInfo) -> int:
    """How many weeks before lies the week of the same ISO 8601 number a year before: 52 or 53."""
    year, week, _ = from_us(us, zone).isocalendar()
    weeks = dt.date(year - 1, 12, 28).isocalendar().week  # that date is always in the last week of its year
    return 52 if week > weeks else weeks


def _earlier(spans: Sequence[Window], by: dt.timedelta, zone: ZoneInfo) -> list[Window]:
    import pandas as pd  # here, as it takes a second to import, and every command imports this module

    walls = pd.DatetimeIndex(pd.to_datetime([at for span in spans for at in span], unit="us", utc=True))
    local = walls.tz_convert(zone.key).tz_localize(None) - pd.Timedelta(by)
    there = local.tz_localize(zone.key, ambiguous=np.ones(len(local), dtype=bool), nonexistent="shift_forward")
    us = there.tz_convert("UTC").as_unit("us").asi8.reshape(-1, 2)
    us[:-1, 1] = us[1:, 0]  # one follows the other, also where an hour came twice
    return [(int(start), int(max(start, end))) for start, end in us]


def hour_of_week(
    hours: Ints, values: npt.NDArray[np.float64], seen: npt.NDArray[np.float64], zone: ZoneInfo, greatest: bool = False
) -> npt.NDArray[np.float64]:
    """What an hour of the week holds on average, shape (7, 24), Monday first: the sum of the values over the hours of
    seen time, or the greatest that one of them held; nan where none of it was seen.
    """
    import pandas as pd

    local = pd.DatetimeIndex(pd.to_datetime(hours, unit="us", utc=True)).tz_convert(zone.key)
    cell = local.day_of_week.to_numpy() * 24 + local.hour.to_numpy()
    total = np.bincount(cell, values, minlength=168)
    known = np.bincount(cell, seen, minlength=168) / (3600 * SECOND)
    if greatest:
        most = np.zeros(168)
        np.maximum.at(most, cell, values)
        return np.where(known > 0, most, np.nan).reshape(7, 24)
    return np.where(known > 0, total / np.where(known > 0, known, 1), np.nan).reshape(7, 24)
