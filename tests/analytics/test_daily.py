"""Every figure of the days before and after: against counting by hand, and told only where it changed."""

import datetime as dt
from dataclasses import dataclass

import numpy as np

from server.analytics.daily import compared
from tests.analytics.analytics_world import LONDON, Over, Refused, Rules, World

DAY = 2 * 86_400  # ticks
MIDDLE = dt.date(2026, 10, 14)  # 14 days on both sides hold a clock change
BASE = dt.datetime(2026, 9, 29, 23, tzinfo=dt.UTC)  # midnight of 30 September, local


@dataclass
class Heard:
    day: dt.date
    shift_db: float | None
    errors_pct: float | None = None


def month(before: int, after: int, blind: list[tuple[int, int]] | None = None) -> World:
    """So many overs of a minute each day, and one call refused."""
    overs, refusals = [], []
    for day in range(29):
        start = day * DAY + DAY // 2
        many = before if day < 14 else after
        overs += [Over(start + 300 * n, start + 300 * n + 120, "fm" if n % 2 else "dmr", 1) for n in range(many)]
        refusals.append(Refused(start, "fm", reason="other-mode"))
        refusals.append(Refused(start + 40, "p25", reason="busy"))
    overs[0].cause = "timeout"
    return World(overs, refusals, blind=blind or [], rules=Rules(), base=BASE)


def test_days_before_and_after_are_counted_as_they_were() -> None:
    rows = compared(month(10, 20).activity(), (), MIDDLE, 2, LONDON)
    by = {(one.figure, one.mode): one.change for one in rows}
    of_channel = {(figure, None) for figure in ("refused", "airtime", "overs", "timeouts")}
    assert by.keys() == {*of_channel, ("airtime", "dmr"), ("airtime", "fm")}
    overs, airtime, refused = by["overs", None], by["airtime", None], by["refused", None]
    assert overs and airtime and refused
    assert (overs.before, overs.after) == (10.0, 20.0) and abs(overs.step - 10.0) < 1e-6
    assert (airtime.before, airtime.after) == (10.0, 20.0) and refused.before == refused.after == 1.0
    fm, timeouts = by["airtime", "fm"], by["timeouts", None]
    assert fm and timeouts and (fm.before, fm.after) == (5.0, 10.0) and timeouts.before == 1 / 14


def test_days_seen_by_less_than_half_are_left_out() -> None:
    first_half = [(0, DAY // 2 + 2000)]  # of the first day, with its overs
    rows = compared(month(10, 10, first_half).activity(), (), MIDDLE, 2, LONDON)
    (overs,) = [one.change for one in rows if one.figure == "overs"]
    assert overs and overs.before == 10.0 and overs.weeks == 2
    most = compared(month(10, 10, [(0, 12 * DAY)]).activity(), (), MIDDLE, 2, LONDON)
    assert {one.change for one in most} == {None}


def test_a_new_feeder_shows_in_the_level_of_those_who_are_heard_again_and_again() -> None:
    noise = np.random.default_rng(3).normal(0, 0.4, 29)
    days = [
        Heard(MIDDLE + dt.timedelta(days=n - 14), None if n == 3 else float(noise[n]) + (4.0 if n > 14 else 0.0))
        for n in range(29)
    ]
    rows = compared(month(5, 5).activity(), days, MIDDLE, 2, LONDON)
    (shift,) = [one.change for one in rows if one.figure == "shift"]
    assert shift and shift.interval.low < 4.0 < shift.interval.high and shift.interval.low > 0
    assert "errors" not in {one.figure for one in rows}
