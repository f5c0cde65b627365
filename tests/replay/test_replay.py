"""The replay against a slow twin made from the definition's words, and by example."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from server.analytics.activity import Pages
from server.analytics.figure_types import LineCounts
from server.analytics.figures import figures
from server.analytics.replay_result import chosen_holds, named_holds, replay_result
from shared.events import MODES
from tests.replay.replay_brute import outcome
from tests.replay.replay_world import ZONE, Over, Refused, World, holds, json_of, worlds

FIGURES = ("shut_outs", "idle_hold_s", "open_gaps", "break_ins", "overs_cut", "seconds_cut")


def result(world: World, hold: dict[str, float] | None = None, timeout: float | None = None) -> dict:
    given = hold if hold is not None else {}
    return json_of(replay_result(world.activity(), world.window_us, world.timers(), ZONE, given, timeout))


@given(worlds(), holds)
@settings(max_examples=400, deadline=None)
def test_a_replay_is_what_the_definition_says_word_by_word(world: World, hold: dict[str, float]) -> None:
    found = result(world, hold, 6.5)
    slowly, slowly_now = outcome(world, hold, 6.5), outcome(world, world.hold, world.timeout)
    assert found["then"] == {name: slowly[name] for name in FIGURES}
    assert found["now"] == {name: slowly_now[name] for name in FIGURES}
    assert found["displaced_link_overs"] == slowly["displaced_link_overs"]
    assert found["unexplained_attempts"] == slowly["unexplained_attempts"]


@given(worlds())
@settings(max_examples=200, deadline=None)
def test_under_the_settings_in_force_then_equals_now(world: World) -> None:
    found = result(world, world.hold, world.timeout)
    assert found["then"] == found["now"]
    assert (
        found["displaced_link_overs"]
        == found["effects"]["displaced_air_overs"]
        == found["effects"]["attempts_spared"]
        == 0
    )
    assert result(world)["then"] == found["now"]  # no setting given is the setting in force


@given(worlds())
@settings(max_examples=200, deadline=None)
def test_idle_hold_now_is_that_of_the_figures(world: World) -> None:
    figured = figures(world.activity(), world.window_us, world.timers(), ZONE, "QB0BFR", LineCounts())
    assert result(world)["now"]["idle_hold_s"] == figured.channel.idle_hold_s


@given(worlds())
@settings(max_examples=200, deadline=None)
def test_shut_outs_now_are_those_of_the_figures_where_every_attempt_has_a_holder_and_modes_do_not_overlap(
    world: World,
) -> None:
    # The walk has one holder; the figures give an attempt with the reason other-mode to `unknown` where they see none.
    # So both agree on what has one clear holder.
    apart, last = [], -(10**6)
    for over in sorted(world.overs, key=lambda one: one.start):
        if over.start >= last:
            apart.append(over)
            last = over.end + 70  # longer than any hold drawn
    plain = replace(world, overs=apart, refusals=[one for one in world.refusals if one.mode])
    found = result(plain)
    figured = figures(plain.activity(), plain.window_us, plain.timers(), ZONE, "QB0BFR", LineCounts())
    held = sum(row.attempts for row in figured.shut_outs or () if row.held_by is not None)
    assert found["now"]["shut_outs"] == held
    unknown = sum(row.attempts for row in figured.shut_outs or () if row.held_by is None)
    assert found["unexplained_attempts"] >= unknown


TALK = [Over(0, 20, "dstar", station="QA1AAA"), Over(30, 50, "dstar", station="QB2BBB")]


def test_a_shorter_hold_spares_the_caller_who_met_only_silence() -> None:
    world = World(TALK, [Refused(70, "dmr"), Refused(10, "fm")], {"default": 20.0})
    assert result(world)["now"]["shut_outs"] == 2
    found = result(world, {"default": 5.0})
    assert found["then"]["shut_outs"] == 1 and found["effects"]["attempts_spared"] == 1
    assert found["now"]["idle_hold_s"] == 25.0 and found["then"]["idle_hold_s"] == 10.0
    assert found["then"]["open_gaps"] == 0  # the gap of 5 s is not longer than the hold


def test_a_hold_shorter_than_the_gap_leaves_the_talk_open_to_a_break_in() -> None:
    world = World(TALK, [Refused(28, "dmr")], {"default": 20.0})
    found = result(world, {"dstar": 3.0})
    assert (found["then"]["open_gaps"], found["then"]["break_ins"]) == (1, 1)
    assert result(world, {"dstar": 4.5})["then"]["break_ins"] == 0


def test_a_longer_hold_displaces_an_air_over_as_a_shut_out_and_a_link_over_apart() -> None:
    overs = [*TALK, Over(92, 100, "dmr"), Over(180, 190, "fm", side="link")]
    world = World(overs, [], {"default": 20.0})
    assert result(world)["now"]["shut_outs"] == 0
    assert result(world, {"default": 22.0})["then"]["shut_outs"] == 1
    longer = result(world, {"default": 90.0})
    assert longer["then"]["shut_outs"] == 1 and longer["displaced_link_overs"] == 1


def test_an_over_that_the_host_let_in_takes_place_whatever_the_hold() -> None:
    overs = [Over(0, 100, "dstar"), Over(20, 30, "fm")]
    assert result(World(overs), {"default": 60.0})["then"]["shut_outs"] == 0


def test_an_attempt_that_no_hold_explains_is_given_apart() -> None:
    world = World(TALK, [Refused(300, "dmr"), Refused(350, "dmr", reason=None), Refused(360, "fm", reason="busy")])
    found = result(world)
    assert found["now"]["shut_outs"] == 0 and found["unexplained_attempts"] == 2


def test_overs_cut_and_by_how_much() -> None:
    found = result(World(TALK), None, 7.5)
    assert (found["now"]["overs_cut"], found["then"]["overs_cut"], found["then"]["seconds_cut"]) == (0, 2, 5.0)


def test_the_shape_is_the_one_that_the_contract_promises() -> None:
    found = result(World(TALK), {"dmr": 5.0, "default": 10.0}, 120)
    promised = {
        "window",
        "hold_s",
        "timeout_s",
        "now",
        "then",
        "interval",
        "displaced_link_overs",
        "unexplained_attempts",
        "assumptions",
    }
    assert promised <= set(found)
    assert found["hold_s"] == {"dmr": 5.0, "default": 10.0} and found["timeout_s"] == 120.0
    assert list(found["now"]) == list(found["then"]) == list(FIGURES)
    assert all(isinstance(line, str) for line in found["assumptions"])


def test_what_was_not_seen_for_two_days_has_no_interval() -> None:
    assert result(World(TALK))["interval"] == {"shut_outs": None, "idle_hold_s": None}


@given(worlds(), holds)
@settings(max_examples=50, deadline=None)
def test_an_interval_holds_the_figure_and_comes_out_the_same_again(world: World, hold: dict[str, float]) -> None:
    wide = replace(world, window=(-7 * 172_800, 2 * 172_800))
    found = result(wide, hold)
    low, high = found["interval"]["shut_outs"]
    assert low <= found["then"]["shut_outs"] <= high
    low, high = found["interval"]["idle_hold_s"]
    assert low <= found["then"]["idle_hold_s"] <= high
    assert result(wide, hold) == found


@pytest.mark.parametrize(
    ("given_holds", "said"),
    [
        ({"default": 10.0}, {"default": 10.0}),
        ({"dmr": 5.0}, {"dmr": 5.0, "default": 20.0}),
        ({}, {"fm": 3.0, "default": 20.0}),
    ],
)
def test_a_default_is_for_every_mode_not_named_and_without_one_the_hold_in_force_stays(
    given_holds: dict, said: dict
) -> None:
    timers = World(hold={"default": 20.0, **({"fm": 3.0} if not given_holds else {})}).timers()
    assert named_holds(chosen_holds(timers, given_holds)) == said


def test_a_year_of_half_a_million_overs_is_replayed_in_seconds() -> None:
    import time

    from server.analytics.replay import demand, replay

    rng = np.random.default_rng(5)
    n = 500_000
    start = np.sort(rng.integers(0, 365 * 86_400 * 2, n))
    world = World()
    empty = world.activity()
    begin = world.window_us[0] + start * 500_000
    overs = replace(
        empty.overs,
        start=begin,
        end=begin + rng.integers(0, 40, n) * 500_000,
        mode=rng.integers(0, 6, n),
        slot=np.zeros(n, dtype=np.int64),
        side=rng.integers(0, 2, n),
        station=rng.integers(0, 300, n),
        target=rng.integers(0, 20, n),
        cause=np.full(n, -1),
        doubtful=np.zeros(n, dtype=bool),
    )
    activity = replace(empty, overs=overs)
    timers = world.timers()
    began = time.process_time()
    asked = demand(activity, (int(begin[0]), int(begin[-1]) + 1), timers)
    replay(asked, (10.0,) * 9, 120.0)
    assert time.process_time() - began < 6  # twice what is asked of a quiet machine, so that a busy one does not fail


def test_a_page_is_no_over_that_the_time_out_cuts_or_a_hold_displaces() -> None:
    world = World([Over(0, 20, "dstar")])
    start, minutes = world.window_us[0] + 15_000_000, 300_000_000
    pages = Pages(*(np.array([one], dtype=np.int64) for one in (start, start + minutes, MODES.index("pocsag"), 0)))
    activity = replace(world.activity(), pages=pages)
    timers = replace(world.timers(), hold_s=(4.0,) * 9)
    found = json_of(replay_result(activity, world.window_us, timers, ZONE, {"default": 10.0}, 180.0))
    for under in ("now", "then"):
        assert (found[under]["overs_cut"], found[under]["seconds_cut"]) == (0, 0.0)
    assert found["effects"]["displaced_unknown_side_overs"] == found["then"]["shut_outs"] == 0
    assert any("1 page" in said for said in found["assumptions"])


def test_an_over_without_a_mode_holds_against_nobody_in_the_replay_as_in_the_figures() -> None:
    refused = [Refused(20, "fm", station="QA1AAA"), Refused(30, "fm", station="QB2BBB", reason=None)]
    world = World([Over(0, 120, None)], refused)
    figured = figures(world.activity(), world.window_us, world.timers(), ZONE, "QB0BFR", LineCounts())
    assert [(row.held_by, row.attempts) for row in figured.shut_outs or ()] == [(None, 1)]
    found = result(world)
    assert (found["now"]["shut_outs"], found["unexplained_attempts"]) == (0, 2)


def test_an_over_without_a_mode_cuts_a_hold_short_and_is_never_displaced() -> None:
    world = World([Over(0, 20, "fm"), Over(30, 40, None)], [Refused(25, "dmr"), Refused(35, "dmr", side="link")])
    found = result(world, {"default": 60.0})
    assert found["now"]["shut_outs"] == found["then"]["shut_outs"] == 1  # the second call met no hold that is known
    assert found["effects"]["displaced_air_overs"] == 0
