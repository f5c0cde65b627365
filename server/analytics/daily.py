"""Figures by local day, as counted, for comparing days before with days after (docs/definitions.md, Before and after).
Pure. Nothing in them hangs on a setting of today: a hold or a time-out that is set now rewrites no day before.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics import sharing
from server.analytics.activity import BUSY, LOCKOUT, Activity, Ints
from server.analytics.before_after import LEAST_SEEN, Change, compare
from server.analytics.replay_days import Floats
from server.analytics.timeouts import counted
from shared import spans as sp
from shared.events import MODES
from shared.zones import SECOND, midnight

MINUTE = 60 * SECOND


class ReceptionDay(Protocol):
    """What the regulars had in common on a day."""

    @property
    def day(self) -> dt.date: ...
    @property
    def shift_db(self) -> float | None: ...
    @property
    def errors_pct(self) -> float | None: ...


@dataclass(frozen=True)
class Compared:
    """One figure before and after a day; `change` None where too few days of it were seen."""

    figure: str  #: refused, airtime, overs, timeouts, shift or errors
    mode: str | None  #: None: the channel
    change: Change | None


def compared(
    activity: Activity, reception: Iterable[ReceptionDay], day: dt.date, weeks: int, zone: ZoneInfo
) -> tuple[Compared, ...]:
    """Every figure by day over so many weeks before and after `day`, which is left out: refused calls, airtime in
    minutes, overs, counted time-outs, and how well the repeater heard.
    """
    offsets = np.array([n for n in range(-7 * weeks, 7 * weeks + 1) if n], dtype=np.int64)
    days = [day + dt.timedelta(days=int(n)) for n in offsets]
    starts = np.array([midnight(one, zone) for one in days], dtype=np.int64)
    ends = np.array([midnight(one + dt.timedelta(days=1), zone) for one in days], dtype=np.int64)
    unseen = sp.covered_before(activity.blind, ends) - sp.covered_before(activity.blind, starts)
    seen = unseen <= (1 - LEAST_SEEN) * (ends - starts)
    rows = [(figure, mode, values, seen) for figure, mode, values in _counted(activity, starts, ends)]
    shifts = {one.day: (one.shift_db, one.errors_pct) for one in reception}
    for place, figure in enumerate(("shift", "errors")):
        told = [shifts.get(one, (None, None))[place] for one in days]
        values = np.array([np.nan if value is None else value for value in told], dtype=np.float64)
        if np.isfinite(values).any():
            rows.append((figure, None, np.nan_to_num(values), seen & np.isfinite(values)))
    return tuple(Compared(figure, mode, compare(offsets, values, kept)) for figure, mode, values, kept in rows)


def _counted(activity: Activity, starts: Ints, ends: Ints) -> Iterable[tuple[str, str | None, Floats]]:
    def by_day(instants: Ints) -> Floats:
        return (np.searchsorted(instants, ends) - np.searchsorted(instants, starts)).astype(np.float64)

    def minutes(spans: sp.Spans) -> Floats:
        return (sp.covered_before(spans, ends) - sp.covered_before(spans, starts)) / MINUTE

    tried, overs, sent = sharing.attempts(activity.refusals), activity.overs, activity.sent
    yield "refused", None, by_day(tried.t[(tried.reason != BUSY) & (tried.reason != LOCKOUT)])
    yield "airtime", None, minutes(activity.on_air)
    yield "overs", None, by_day(overs.start)
    yield "timeouts", None, by_day(overs.start[counted(overs)])
    within = (sent.start < ends[-1]) & (sent.end > starts[0])
    for code in np.unique(sent.mode[within & (sent.mode >= 0)]).tolist():
        yield "airtime", MODES[code], minutes(sp.union(sent.where(sent.mode == code).spans()))
