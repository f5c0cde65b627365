"""Suggestions: what the data support, with reasons, and nothing more."""

import numpy as np

from server.analytics.activity import Activity
from server.analytics.replay import demand as demand_of
from server.analytics.replay import replay
from server.analytics.replay_curves import Curve, Point, curve, cuts, modes_of
from server.analytics.suggestion import ByChance, FewDays, FewGaps, OpenPauses, suggest
from server.telling.suggestion import NO_CHANGE, suggestion_reasons, suggestion_sentence
from shared.zones import DAY
from tests.replay.replay_sim import CALLS_A_WEEK, activity, demand, run, timers
from tests.replay.replay_world import BASE, ZONE


def point(hold: float, shut_outs: float, days: int = 28, breaks: float = 0.0, own_open: int = 0) -> Point:
    rng = np.random.default_rng(5)
    daily = np.full(days, shut_outs) + rng.integers(0, 2, days)
    nothing = np.zeros(days)
    return Point(hold, daily, nothing, nothing, nothing, np.full(days, breaks), own_open, 0, 0)


def curve_of(*points: Point, gaps: int = 400) -> Curve:
    return Curve(1, points[-1], points, gaps)


def test_a_hold_that_spares_callers_every_day_is_suggested_with_its_reasons() -> None:
    found = suggest((curve_of(point(10, 3, own_open=6), point(20, 6)),))
    assert found.change is not None and (found.change.mode, found.change.to_s) == ("dmr", 10)
    assert suggestion_sentence(found) == "Shorten the hold of DMR from 20 s to 10 s."
    assert "84 shut-outs" in suggestion_reasons(found)[0]
    assert any("break-ins" in reason for reason in suggestion_reasons(found))


def test_a_hold_that_opens_the_talk_is_not_suggested() -> None:
    found = suggest((curve_of(point(2, 3, own_open=21), point(20, 6)),))
    assert isinstance(found.reason, OpenPauses) and suggestion_sentence(found) == NO_CHANGE
    assert "could have broken in at 21 of 400 pauses" in suggestion_reasons(found)[0]


def test_a_hold_that_opens_every_pause_says_so_with_thousands_separated() -> None:
    found = suggest((curve_of(point(0, 3, own_open=2516), point(20, 6), gaps=2516),))
    assert suggestion_reasons(found) == (
        (
            "Cutting DMR's hold from 20 s to 0 s would have saved 84 shut-outs and break-ins, but another mode could"
            " have broken in at all 2,516 pauses between speakers."
        ),
    )


def test_a_mode_whose_talk_the_log_does_not_show_is_not_shortened() -> None:
    found = suggest((curve_of(point(10, 3), point(20, 6), gaps=0),))
    assert isinstance(found.reason, FewGaps) and suggestion_sentence(found) == NO_CHANGE
    assert "only 0 turnaround gaps" in suggestion_reasons(found)[0]


def test_break_ins_are_part_of_the_price() -> None:
    assert suggestion_sentence(suggest((curve_of(point(10, 3, breaks=3.0), point(20, 6)),))) == NO_CHANGE


def test_a_few_days_support_no_change() -> None:
    found = suggest((curve_of(point(10, 0, days=7), point(20, 6, days=7)),))
    assert isinstance(found.reason, FewDays) and suggestion_sentence(found) == NO_CHANGE
    assert "7 days" in suggestion_reasons(found)[0]
    assert suggestion_sentence(suggest(())) == NO_CHANGE


def test_one_bad_day_supports_no_change() -> None:
    bad = point(20, 1)
    bad.shut_outs[3] += 40
    found = suggest((curve_of(point(10, 1), bad),))
    assert isinstance(found.reason, ByChance) and suggestion_sentence(found) == NO_CHANGE
    assert "chance" in suggestion_reasons(found)[0]


def of_log(found: Activity, days: int, hold: float) -> tuple[Curve, ...]:
    asked = demand_of(found, (BASE, BASE + days * DAY), timers(dict.fromkeys(CALLS_A_WEEK, hold)))
    now = replay(asked, asked.timers.hold_s, asked.timers.timeout_s)
    return tuple(curve(asked, now, found, ZONE, mode) for mode in modes_of(asked))


def test_on_a_simulated_repeater_with_a_hold_far_too_long_a_shorter_one_is_suggested() -> None:
    hold = 60.0
    curves = of_log(activity(run(demand(3, 28, 1.5), dict.fromkeys(CALLS_A_WEEK, hold)), BASE), 28, hold)
    assert [one.points[-1].hold_s for one in curves] == [60.0] * 4 and len(curves[0].points) == 13
    found = suggest(curves)
    assert found.change is not None and found.change.to_s < hold
    for one in curves:  # a longer hold of one mode never frees idle hold, and never opens gaps
        assert np.all(np.diff([point.idle_s.sum() for point in one.points]) > -1e-6 * hold)
        assert np.all(np.diff([point.own_open for point in one.points]) <= 0)


def test_cuts_of_time_outs_fall_as_the_time_out_grows() -> None:
    found = activity(run(demand(4), dict.fromkeys(CALLS_A_WEEK, 20.0)), BASE)
    asked = demand_of(found, (BASE, BASE + 7 * DAY), timers({}))
    told = cuts(asked)
    assert [cut.overs for cut in told] == sorted((cut.overs for cut in told), reverse=True)
    lengths = (found.overs.end - found.overs.start) / 1e6
    assert (
        told[0].overs == int((lengths > 60).sum()) and abs(told[0].seconds - (lengths[lengths > 60] - 60).sum()) < 1e-3
    )
