"""When a mode finds the repeater free, against counting half seconds, and by hour of the week."""

import math
from zoneinfo import ZoneInfo

import numpy as np
from hypothesis import HealthCheck, given, settings

from server.analytics.activity import Activity, Overs, Refusals, Unfinished
from server.analytics.free_time import free_time
from shared import spans as sp
from shared.events import MODES
from shared.timers import Timers
from shared.zones import SECOND, instant
from tests.analytics.analytics_brute import Brute, Ticks
from tests.analytics.analytics_world import LONDON, World, worlds

DMR, DSTAR = MODES.index("dmr"), MODES.index("dstar")
NONE = np.empty(0, dtype=np.int64)


def free_by_counting(brute: Brute, mode: str) -> Ticks:
    """No other mode holds, and the mode is not on the air itself, on both slots where it has them."""
    slots = {over.slot for over in brute.sent if over.mode == mode} & {1, 2}
    own = brute.airtime(mode, 1) & brute.airtime(mode, 2) if slots else brute.airtime(mode)
    return brute.seen.difference(own, *(brute.held(other) for other in MODES if other != mode))


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(worlds())
def test_free_time_agrees_with_counting_half_seconds(world: World) -> None:
    brute = Brute(world)
    ours = free_time(world.activity(), world.window_us, world.rules.timers(), LONDON)
    if not brute.seen:
        assert ours == {}
        return
    assert {MODES[mode] for mode in ours} == {mode for mode in MODES if brute.held(mode) & brute.inside}
    for mode, found in ours.items():
        expected = len(free_by_counting(brute, MODES[mode])) / len(brute.seen)
        assert math.isclose(found.share, expected, abs_tol=1e-12), MODES[mode]


def weekly(first: str, weeks: int, mode: int, minutes: int, blind: sp.Spans = sp.NONE) -> Activity:
    """An over of so many minutes at the beginning of the same hour of each week, by the clock on the wall."""
    starts = [instant(f"{np.datetime64(first) + np.timedelta64(7 * n, 'D')}T19:00", LONDON) for n in range(weeks)]
    begin = np.array(starts, dtype=np.int64)
    fill = np.full(weeks, -1, dtype=np.int64)
    overs = Overs(
        begin, begin + minutes * 60 * SECOND, np.full(weeks, mode), np.zeros(weeks, dtype=np.int64), fill, fill, fill,
        fill, np.zeros(weeks, dtype=bool),
    )  # fmt: skip
    refused = Refusals(NONE, NONE, NONE, NONE, NONE)
    return Activity(overs, Unfinished(NONE, NONE, NONE), refused, blind, (), ())


def timers(hold_s: float) -> Timers:
    return Timers(180.0, (hold_s,) * (len(MODES) + 1), (0.0,) * (len(MODES) + 1), 1.0)


def test_an_hour_of_the_week_keeps_its_place_over_a_clock_change() -> None:
    # Four Tuesdays at 19:00 local around 25 October 2026, when London's clocks go back: 15 minutes, and 15 s of hold.
    window = instant("2026-10-12", LONDON), instant("2026-11-09", LONDON)
    found = free_time(weekly("2026-10-13", 4, DSTAR, 15), window, timers(15.0), LONDON)[DSTAR]
    assert found.by_hour[1, 19] == 0.75  # its own hold shuts nobody of the mode out
    assert (np.delete(found.by_hour.reshape(-1), 24 + 19) == 1).all()
    assert found.fullest() == (1, 19, 0.75)
    assert math.isclose(found.share, 1 - 4 * 900 / (28 * 86_400 + 3_600))


def test_another_mode_waits_for_the_hold_too() -> None:
    window = instant("2026-10-12", LONDON), instant("2026-11-09", LONDON)
    activity = weekly("2026-10-13", 4, DSTAR, 15)
    other = weekly("2026-10-14", 4, DMR, 1).overs
    both = Overs(
        *(np.concatenate(pair) for pair in zip(vars(activity.overs).values(), vars(other).values(), strict=True))
    )
    order = np.argsort(both.start)
    found = free_time(Activity(both.where(order), *list(vars(activity).values())[1:6]), window, timers(60.0), LONDON)
    assert math.isclose(found[DMR].by_hour[1, 19], 1 - 16 / 60)
    assert math.isclose(found[DMR].by_hour[2, 19], 1 - 1 / 60)


def test_an_hour_that_was_seen_in_fewer_than_three_weeks_is_not_told() -> None:
    window = instant("2026-11-02", LONDON), instant("2026-11-16", LONDON)
    found = free_time(weekly("2026-11-03", 2, DMR, 15), window, timers(0.0), ZoneInfo("Europe/London"))[DMR]
    assert np.isnan(found.by_hour).all() and found.fullest() is None
    assert math.isclose(found.share, 1 - 2 * 900 / (14 * 86_400))


def test_an_hour_that_was_half_seen_counts_by_what_was_seen() -> None:
    window = instant("2026-11-02", LONDON), instant("2026-11-23", LONDON)
    blind = sp.spans([instant("2026-11-10T19:30", LONDON)], [instant("2026-11-10T20:00", LONDON)])
    found = free_time(weekly("2026-11-03", 3, DMR, 15, blind), window, timers(0.0), LONDON)[DMR]
    assert math.isclose(found.by_hour[1, 19], 1 - 45 / 150)
