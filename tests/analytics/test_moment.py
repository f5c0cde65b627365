"""A moment: against a brute-force twin on random logs, and worked examples by hand."""

import datetime as dt
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from server.analytics.linking import Change, Key
from server.analytics.moment import moment
from server.analytics.moment_types import Moment
from shared.zones import SECOND
from tests.analytics.analytics_world import LONDON, Lost, Over, Paged, Refused, Rules, World
from tests.analytics.moment_brute import disagreements

RULES = Rules(hold={"default": 40, "dmr": 20}, tail={"default": 0})  # 20 s, 10 s in DMR


@dataclass(frozen=True)
class Raised:
    """An incident of a test."""

    raised: int
    cleared: int | None
    began: int | None = None
    rule: str = "link-down"
    subject: str = "link"
    urgent: bool = False
    says: str = ""

    def as_json(self, zone: ZoneInfo) -> dict[str, Any]:
        return {"says": self.says}


def asked(world: World, tick: int, wanted: str | None = None, *, incidents: tuple[Raised, ...] = ()) -> Moment:
    links: dict[Key, list[Change]] = {(None, "dmr", "99920"): [(world.us(100), False), (world.us(160), True)]}
    return moment(world.activity(), world.us(tick), wanted, world.rules.timers(), LONDON, links, incidents)


def evening(**more: object) -> World:
    """D-STAR from 0 to 60 s and, after 10 s, to 90 s; its hold ends at 110 s. Nothing is seen after an hour."""
    overs = [Over(0, 120, "dstar"), Over(140, 180, "dstar", side="link")]
    return World(overs, rules=RULES, blind=[(7200, 500_000)], **more)  # type: ignore[arg-type]


def test_moments_agree_with_counting_half_seconds_over_random_logs() -> None:
    """All 10,000 instants are the bench's."""
    asked_about, found = disagreements(logs=15, each=30)
    assert (asked_about, found) == (450, [])


def test_a_caller_waits_until_the_unbroken_hold_of_the_other_mode_ends() -> None:
    found = asked(evening(), 130, "dmr")
    assert found.holding and (found.holding.mode, found.wait_s) == ("dstar", 45.0)
    assert [found.holding.start_us, found.holding.end_us] == [evening().us(0), evening().us(220)]
    assert found.on_air == ()  # between two overs it is held and silent


def test_the_end_of_a_hold_is_the_first_instant_at_which_another_mode_may_go_on() -> None:
    assert asked(evening(), 219, "dmr").wait_s == 0.5
    free = asked(evening(), 220, "dmr")
    assert free.holding is None and free.wait_s == 0.0
    assert free.free == (evening().us(220), evening().us(7200))


def test_a_caller_of_the_mode_that_holds_may_go_on() -> None:
    found = asked(evening(), 130, "dstar")
    assert found.holding and found.holding.mode == "dstar" and found.wait_s == 0.0


def test_where_two_modes_hold_it_is_the_one_whose_hold_began_first_and_for_a_caller_the_other_than_their_own() -> None:
    world = World([Over(0, 100, "fm"), Over(50, 150, "dmr")], rules=RULES)
    by = {wanted: asked(world, 90, wanted) for wanted in (None, "fm", "p25")}
    assert [one.holding.mode for one in by.values() if one.holding] == ["fm", "dmr", "fm"]
    assert [one.wait_s for one in by.values()] == [None, 40.0, 25.0]


def test_what_nobody_saw_is_not_known() -> None:
    found = asked(evening(), 9600, "dmr")
    assert (found.seen, found.on_air, found.holding, found.wait_s) == (False, None, None, None)
    assert found.attempts is found.timeouts is found.links_down is found.incidents is None
    assert found.unseen == (evening().us(7200), evening().us(500_000))


def test_the_edge_of_what_was_seen_still_tells_what_happened_before_it() -> None:
    found = asked(evening(refusals=[Refused(6000, "fm", reason="busy")]), 7200)
    assert not found.seen and found.attempts and found.attempts[0].reason == "busy"
    assert found.timeouts == () and found.near_seen_s == 900.0


def test_an_over_without_an_end_makes_it_unknown_whether_a_caller_could_go_on() -> None:
    world = evening(lost=[Lost(1000, None, "fm")])
    doubtful = asked(world, 1100, "dmr")
    assert doubtful.holding is None and doubtful.wait_s is None and doubtful.doubt == world.us(1000)
    assert asked(world, 1100, "fm").wait_s == 0.0  # it was their own mode's
    assert asked(world, 1000 + 360 + 40, "dmr").wait_s == 0.0  # the longest that it can have held is over


def test_a_page_of_unknown_length_holds_for_its_hold_at_least() -> None:
    world = evening(pages=[Paged(1000, None)])
    assert asked(world, 1039, "dmr").wait_s is None and asked(world, 1040, "dmr").wait_s == 0.0


def test_an_over_of_an_unknown_mode_is_on_the_air_and_holds_against_nobody_we_know() -> None:
    world = World([Over(0, 100, None)], rules=RULES)
    found = asked(world, 50, "dmr")
    assert found.on_air and found.on_air[0].mode is None and found.holding is None and found.wait_s is None


def test_attempts_within_fifteen_minutes_are_told_with_their_wait_and_their_reason() -> None:
    refusals = [
        Refused(100, "dmr", reason="other-mode"),
        Refused(110, "dmr", reason="other-mode"),  # 5 s later: the same attempt
        Refused(150, "dstar", reason="busy"),
        Refused(200, "p25", reason=None),
        Refused(1830, "fm", reason="lockout"),
        Refused(1831, "fm", station="QA1AAA", reason="lockout"),  # half a second too late
    ]
    found = asked(evening(refusals=refusals), 30)
    assert found.attempts is not None
    assert [(one.mode, one.reason, one.wait_s) for one in found.attempts] == [
        ("dmr", "other-mode", 60.0), ("dstar", "busy", None), ("p25", None, 10.0), ("fm", "lockout", None),
    ]  # fmt: skip


def test_time_outs_are_told_at_their_end_and_what_rests_on_length_alone_is_estimated() -> None:
    overs = [Over(0, 360, "dstar", cause="timeout"), Over(400, 760, "fm", cause=None), Over(800, 1100, "fm")]
    found = asked(World(overs, rules=RULES), 800)
    assert found.timeouts is not None
    assert [(one.over.mode, one.estimated) for one in found.timeouts] == [("dstar", False), ("fm", True)]
    assert asked(World(overs, rules=RULES), 760 + 1801).timeouts == ()


def test_a_link_that_was_down_is_told_as_long_as_a_part_of_it_lies_near() -> None:
    world = evening()
    near, far = asked(world, 160 + 1799), asked(world, 160 + 1801)
    assert near.links_down and (near.links_down[0].start_us, near.links_down[0].end_us) == (
        world.us(100),
        world.us(160),
    )
    assert far.links_down == ()


def test_incidents_that_reach_near_it_are_told_from_when_they_began() -> None:
    world = evening()
    began, over = world.us(3000), Raised(world.us(10), world.us(20))
    going = Raised(world.us(4000), None, began)
    assert asked(world, 1300, incidents=(over, going)).incidents == (over, going)
    assert asked(world, 1900, incidents=(over, going)).incidents == (going,)
    assert asked(world, 1199, incidents=(going,)).incidents == ()


def test_a_moment_tells_no_station() -> None:
    world = World([Over(0, 100, "dmr", 1, station="QA1AAA")], [Refused(10, "fm", station="QB2BBB")], rules=RULES)
    told = str(asked(world, 50, "fm").as_json([]))
    assert "dmr" in told and "QA1" not in told and "QB2" not in told


def test_instants_are_told_with_the_offset_of_their_own_side_of_a_clock_change() -> None:
    world = World([Over(-7200, 7200, "fm")], rules=RULES, base=dt.datetime(2026, 10, 25, 1, tzinfo=dt.UTC))
    told = asked(world, 0).as_json([])
    assert told["at"] == "2026-10-25T01:00:00+00:00" and told["held_from"] == "2026-10-25T01:00:00+01:00"
    assert SECOND == 10**6
