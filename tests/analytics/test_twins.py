"""Figures against a brute-force twin (analytics_brute.py, written from docs/definitions.md alone) on random traffic."""

import math
from typing import Any

from hypothesis import HealthCheck, given, settings

from server.analytics.figure_types import LineCounts
from server.analytics.figures import figures
from shared.events import MODES
from tests.analytics.analytics_brute import Brute
from tests.analytics.analytics_world import LONDON, World, worlds

few = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def of(world: World) -> dict[str, Any]:
    return figures(world.activity(), world.window_us, world.rules.timers(), LONDON, "QB0BFR", LineCounts(1)).as_json()


def same(ours: Any, theirs: Any) -> bool:
    """Equal, but for the last bits of a mean."""
    if isinstance(ours, dict) and isinstance(theirs, dict):
        return ours.keys() == theirs.keys() and all(same(ours[key], theirs[key]) for key in ours)
    if isinstance(ours, list) and isinstance(theirs, list):
        return len(ours) == len(theirs) and all(map(same, ours, theirs))
    if isinstance(ours, float) and isinstance(theirs, float | int):
        return math.isclose(ours, theirs, rel_tol=1e-12)
    return type(ours) is type(theirs) and ours == theirs


@few
@given(worlds())
def test_the_window_and_the_channel_agree_with_counting_half_seconds(world: World) -> None:
    ours, brute = of(world), Brute(world)
    assert same(ours["channel"], brute.channel())
    assert same(ours["window"], {
        "from": brute.iso(world.window[0]), "to": brute.iso(world.window[1]), "zone": "Europe/London",
        "seconds": len(brute.inside) / 2, "blind_s": len(brute.blind) / 2,
    })  # fmt: skip
    assert ours["repeater"] == "QB0BFR" and ours["intake"]["lines"] == 1


@few
@given(worlds())
def test_every_figure_of_every_mode_agrees_with_counting_half_seconds(world: World) -> None:
    ours, brute = of(world), Brute(world)
    theirs = {mode: found for mode in MODES if (found := brute.mode(mode))}
    assert ours["modes"].keys() == theirs.keys()
    for mode, found in theirs.items():
        for name, value in found.items():
            assert same(ours["modes"][mode][name], value), (mode, name, ours["modes"][mode][name], value)
        assert ours["modes"][mode].keys() == found.keys()


@few
@given(worlds())
def test_shut_outs_and_likely_waiters_agree_with_a_loop_over_callers(world: World) -> None:
    ours, brute = of(world), Brute(world)
    assert same(ours["shut_outs"], brute.shut_out_rows())
    assert ours["likely_waiters_estimated"] == brute.likely_waiters()


@few
@given(worlds())
def test_talk_agrees_with_walking_through_each_conversation(world: World) -> None:
    assert same(of(world)["talk"], Brute(world).talk())


@settings(few, max_examples=40)
@given(worlds())
def test_duty_agrees_with_sliding_by_half_a_second(world: World) -> None:
    ours, brute = of(world), Brute(world)
    for name, seconds in (("6min", 360), ("30min", 1800), ("60min", 3600)):
        assert same(ours["duty"][name], brute.duty(2 * seconds))
