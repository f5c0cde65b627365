"""Shut-outs and time-outs one by one: worked examples."""

from server.analytics.happenings import shut_outs_in, timeouts_in
from server.analytics.moment import moment
from tests.analytics.analytics_world import LONDON, Over, Refused, Rules, World


def test_a_refused_call_leads_to_the_moment_at_which_its_caller_waits_as_long() -> None:
    world = World(
        [Over(0, 100, "dstar"), Over(300, 660, "fm", cause="timeout"), Over(700, 1060, "dmr", 1)],
        [Refused(50, "dmr", reason="other-mode"), Refused(310, None, reason="other-mode"), Refused(690, "dmr")],
        rules=Rules(),
        window=(0, 2000),
    )
    activity, timers = world.activity(), world.rules.timers()
    shut = shut_outs_in(activity, world.window_us, timers)
    assert [(one.wanted, one.held_by, one.wait_s) for one in shut] == [
        ("dmr", "dstar", 45.0), (None, "fm", 195.0), ("dmr", "fm", 5.0),
    ]  # fmt: skip
    for one in shut:
        if one.wanted:
            then = moment(activity, one.at_us, one.wanted, timers, LONDON, {}, ())
            assert then.wait_s == one.wait_s and then.holding and then.holding.mode == one.held_by
    assert [(one.over.mode, one.estimated) for one in timeouts_in(activity, world.window_us, timers)] == [
        ("fm", False), ("dmr", True),
    ]  # fmt: skip
