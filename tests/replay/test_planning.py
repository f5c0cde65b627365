"""Mode planning: who loses what."""

import numpy as np
from hypothesis import given, settings

from server.analytics.planning import FEWEST, hidden, local_hours, plan
from shared.events import MODES
from shared.zones import HOUR, from_us, instant
from tests.replay.replay_world import ZONE, Over, Refused, World, worlds

DMR, FM = MODES.index("dmr"), MODES.index("fm")
WORLD = World(
    [
        Over(0, 20, "dmr", station="QA1AAA"),
        Over(30, 50, "dmr", station="QB2BBB"),
        Over(7200, 7220, "fm", station="QA1AAA", side="link"),
    ],
    [Refused(40, "fm"), Refused(7210, "dmr")],
    window=(0, 172_800),
)


def test_a_mode_switched_off_loses_its_overs_and_spares_those_it_shut_out() -> None:
    found = plan(WORLD.activity(), WORLD.window_us, WORLD.timers(), ZONE, DMR)
    assert (found.overs, found.air_overs, found.link_overs, found.airtime_s, found.kept_overs) == (2, 2, 0, 20.0, 0)
    assert (found.attempts, found.spared, found.idle_hold_s) == (1, 1, 25.0)


def test_a_handful_of_stations_is_not_told_apart() -> None:
    found = plan(WORLD.activity(), WORLD.window_us, WORLD.timers(), ZONE, DMR)
    assert found.stations is None and found.stations_only is None
    assert [hidden(n) for n in (0, 1, FEWEST - 1, FEWEST)] == [0, None, None, FEWEST]


def test_given_hours_only_what_starts_outside_them_is_lost() -> None:
    activity, window, timers = WORLD.activity(), WORLD.window_us, WORLD.timers()
    kept = plan(activity, window, timers, ZONE, DMR, (0, 1))  # the overs are at midnight
    assert (kept.overs, kept.kept_overs, kept.spared) == (0, 2, 0)
    night = plan(activity, window, timers, ZONE, DMR, (22, 6))
    assert (night.overs, night.kept_overs) == (0, 2)
    day = plan(activity, window, timers, ZONE, DMR, (6, 22))
    assert (day.overs, day.kept_overs, day.spared) == (2, 0, 1)
    whole = plan(activity, window, timers, ZONE, DMR, (5, 5))
    assert whole.overs == 0


@given(worlds())
@settings(max_examples=100, deadline=None)
def test_without_a_mode_no_attempt_of_the_others_is_shut_out_by_it(world: World) -> None:
    activity, window, timers = world.activity(), world.window_us, world.timers()
    found = plan(activity, window, timers, ZONE, DMR)
    without = World(
        [o for o in world.overs if o.mode != "dmr"], world.refusals, world.hold, world.timeout, world.window
    )
    own = [over for over in world.overs if over.mode == "dmr" and world.window[0] <= over.start < world.window[1]]
    assert found.overs == len(own) and found.air_overs + found.link_overs <= found.overs
    assert 0 <= found.spared <= len(world.refusals)
    assert plan(without.activity(), window, timers, ZONE, DMR).spared == 0


def test_local_hours_are_those_of_the_zone_over_the_clock_change() -> None:
    # Europe/London leaves summer time on 2026-10-25 at 01:00 UTC (IANA tz database); Python's zoneinfo hour by hour.
    start = instant("2026-10-24T20:00", ZONE)
    instants = np.array([start + k * HOUR // 6 for k in range(90)], dtype=np.int64)
    assert local_hours(instants, ZONE).tolist() == [from_us(int(t), ZONE).hour for t in instants]
