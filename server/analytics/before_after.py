"""Before and after a change of timers: as many whole weeks on both sides, weekday against weekday, the trend taken out
(docs/definitions.md, Before and after)."""

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics import sharing
from server.analytics.activity import BUSY, LOCKOUT, Activity, Ints
from server.analytics.intervals import Interval, t_quantile
from server.analytics.replay_days import Floats
from shared import spans as sp
from shared.zones import from_us, midnight

MOST_WEEKS = 8
LEAST_WEEKS = 2
LEAST_SEEN = 0.5  # of a day; the other days are left out


@dataclass(frozen=True)
class Change:
    """The step at the change, in attempts a day, and what it rests on."""

    before: float  #: mean attempts a day, as counted
    after: float
    step: float  #: what remains of the difference between same weekdays once the trend is taken out
    interval: Interval
    weeks: int  #: on each side


def weeks_around(at: int, first: int, last: int, zone: ZoneInfo, others: tuple[int, ...] = ()) -> int:
    """How many whole weeks lie on both sides of the day of the change within [first, last), with no other change in
    them: at most 8.
    """
    day = from_us(at, zone).date()
    for weeks in range(MOST_WEEKS, 0, -1):
        start, end = bounds(day, weeks, zone)
        if first <= start and end <= last and not any(start < other < end for other in others):
            return weeks
    return 0


def bounds(day: dt.date, weeks: int, zone: ZoneInfo) -> tuple[int, int]:
    """[start, end) of the weeks before and after the day of the change; the day itself lies between them and is left
    out.
    """
    return midnight(day - dt.timedelta(days=7 * weeks), zone), midnight(day + dt.timedelta(days=1 + 7 * weeks), zone)


def daily_attempts(
    activity: Activity, day: dt.date, weeks: int, zone: ZoneInfo
) -> tuple[Ints, Floats, npt.NDArray[np.bool_]]:
    """(days from the change, attempts of the reason `other-mode` or none, whether half the day was seen), the day of
    the change left out.

    Attempts are as the host logged them, so that the hold that is set today changes nothing in what was counted before.
    """
    offsets = np.array([n for n in range(-7 * weeks, 7 * weeks + 1) if n], dtype=np.int64)
    starts = np.array([midnight(day + dt.timedelta(days=int(n)), zone) for n in offsets], dtype=np.int64)
    ends = np.array([midnight(day + dt.timedelta(days=int(n) + 1), zone) for n in offsets], dtype=np.int64)
    tried = sharing.attempts(activity.refusals)
    t = tried.t[(tried.reason != BUSY) & (tried.reason != LOCKOUT)]
    counts = (np.searchsorted(t, ends) - np.searchsorted(t, starts)).astype(np.float64)
    unseen = sp.covered_before(activity.blind, ends) - sp.covered_before(activity.blind, starts)
    return offsets, counts, unseen <= (1 - LEAST_SEEN) * (ends - starts)


def compare(offsets: Ints, counts: Floats, seen: npt.NDArray[np.bool_]) -> Change | None:
    """The step between the days before (offset below 0) and after; None with less than two weeks of days on a side.

    Least squares of the daily counts on seven weekdays, a straight trend over all days, and the step. Its 95 % interval
    is Student's t on errors that may differ from day to day and go together within a week (clustered by week, with the
    small-sample factor; J. G. MacKinnon and H. White, Journal of Econometrics 29, 1985, and later practice, from
    memory), or on the plain errors where those are wider."""
    x, y = offsets[seen].astype(np.float64), counts[seen]
    after = x > 0
    if min(after.sum(), (~after).sum()) < 7 * LEAST_WEEKS - 2:
        return None
    weekday = (x.astype(np.int64) % 7)[:, None] == np.arange(7)
    weekday = weekday[:, weekday.any(axis=0)]
    columns = np.column_stack([weekday, x / 7, after]).astype(np.float64)
    inverse = np.linalg.pinv(columns.T @ columns)
    fitted = inverse @ columns.T @ y
    left = y - columns @ fitted
    freedom = len(y) - columns.shape[1]
    plain = inverse[-1, -1] * float(left @ left) / freedom
    week = np.where(after, (x - 1) // 7, x // 7).astype(np.int64)
    groups = np.unique(week)
    scores = np.array([columns[week == one].T @ left[week == one] for one in groups])
    many = len(groups)
    clustered = (inverse @ scores.T @ scores @ inverse)[-1, -1] * many / (many - 1) * (len(y) - 1) / freedom
    wider = max(plain * t_quantile(freedom) ** 2, float(clustered) * t_quantile(many - 3) ** 2 if many > 3 else 0.0)
    step, half = float(fitted[-1]), float(np.sqrt(wider))
    return Change(
        float(y[~after].mean()), float(y[after].mean()), step, Interval(step - half, step + half), len(offsets) // 14
    )
