"""What holds of every random log: shares are shares, erlangs fit their streams, blind and seen make the window, and
nothing unseen is judged.
"""

from typing import Any

from hypothesis import HealthCheck, given, settings

from server.analytics.activity import Activity
from server.analytics.figure_types import LineCounts
from server.analytics.figures import figures
from tests.analytics.analytics_world import LONDON, World, worlds

few = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
ADDED = (
    "airtime_s",
    "keyed_s",
    "idle_hold_s",
    "seen_s",
    "overs",
    "pages",
    "overruns",
    "unfinished",
    "unfinished_longest_s",
)


def of(world: World, activity: Activity, window: tuple[int, int]) -> dict[str, Any]:
    return figures(activity, window, world.rules.timers(), LONDON, "QB0BFR", LineCounts()).as_json()


@few
@given(worlds())
def test_shares_are_shares_and_lengths_fit_into_what_was_seen(world: World) -> None:
    found = of(world, world.activity(), world.window_us)
    window, channel = found["window"], found["channel"]
    seen = channel["seen_s"]
    assert window["blind_s"] + seen == window["seconds"]
    shares = [channel["occupancy"], found["talk"]["short_gap_share"], *(its["share"] for its in found["duty"].values())]
    shares += [its["shut_out_risk"] for its in found["modes"].values()]
    assert all(share is None or 0 <= share <= 1 for share in shares)
    assert all(channel[name] is None or 0 <= channel[name] <= seen for name in ("airtime_s", "keyed_s", "idle_hold_s"))
    for its in found["modes"].values():
        assert its["airtime_s"] is None or its["airtime_s"] <= (channel["airtime_s"] or 0.0)
        assert (
            its["erlang"] is None or 0 <= its["erlang"] <= 3 + 1e-12
        )  # at most slots 1 and 2, and overs of no known slot


@few
@given(worlds())
def test_nothing_is_said_of_a_window_of_which_nothing_was_seen_and_something_of_every_other(world: World) -> None:
    found = of(world, world.activity(), world.window_us)
    if found["channel"]["seen_s"]:
        lengthless = world.lost or any(page.end is None for page in world.pages)
        assert (found["channel"]["occupancy"] is not None or lengthless) and found["shut_outs"] is not None
        return
    leaves = [value for name, value in found["channel"].items() if name != "seen_s"]
    leaves += [value for part in ("busy_hour", "talk") for value in found[part].values()]
    leaves += [value for its in found["duty"].values() for value in its.values()]
    assert (
        set(leaves) == {None}
        and found["modes"] == {}
        and found["shut_outs"] is found["likely_waiters_estimated"] is None
    )


@few
@given(worlds())
def test_two_windows_that_follow_one_another_add_up(world: World) -> None:
    activity, (start, end) = world.activity(), world.window_us
    middle = start + (end - start) // 2
    parts = [of(world, activity, window)["channel"] for window in ((start, middle), (middle, end))]
    whole = of(world, activity, (start, end))["channel"]
    for name in ADDED:
        known = [part[name] for part in parts if part["seen_s"]]
        unseen_counts = len(known) < 2 and name in ("overs", "pages", "overruns", "unfinished", "unfinished_longest_s")
        if (
            known and not unseen_counts
        ):  # what starts where nothing was seen is counted only within a window that saw something
            # Of a part in which all was of unknown length, the whole takes what the other has.
            assert abs(sum(value or 0.0 for value in known) - (whole[name] or 0.0)) < 1e-6, name
