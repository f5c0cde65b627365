"""Each figure worked by hand on a few overs, in plain sight. Times in the worlds are half seconds."""

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from server.analytics import airtime
from server.analytics.figure_types import LineCounts
from server.analytics.figures import figures
from tests.analytics.analytics_world import LONDON, Lost, Over, Paged, Refused, Rules, World


def of(*overs: Over, **rest: Any) -> dict[str, Any]:
    world = World(list(overs), **rest)
    return figures(world.activity(), world.window_us, world.rules.timers(), LONDON, "QB0BFR", LineCounts()).as_json()


def rules(hold: int = 40, **rest: Any) -> Rules:
    return Rules(hold={"default": hold}, **rest)


def test_two_overs_at_once_are_counted_once_in_airtime() -> None:
    found = of(Over(0, 20), Over(10, 30))  # 0-10 s and 5-15 s
    assert found["channel"]["airtime_s"] == found["modes"]["dmr"]["airtime_s"] == 15.0
    assert found["channel"]["occupancy"] == 15 / 120


def test_both_slots_in_use_are_one_carrier_and_two_streams_of_traffic() -> None:
    dmr = of(Over(0, 60, slot=1), Over(40, 100, slot=2))["modes"]["dmr"]  # 0-30 s and 20-50 s of 120 s
    assert (dmr["airtime_s"], dmr["slot_s"], dmr["both_slots_s"]) == (50.0, {"1": 30.0, "2": 30.0}, 10.0)
    assert dmr["erlang"] == 60 / 120


def test_both_slots_and_another_mode_add_up_to_the_traffic_of_the_busy_hour() -> None:
    hour, day = 7200, 172800  # the world begins at local midnight
    overs = [Over(19 * hour, 20 * hour, slot=slot) for slot in (1, 2)]
    found = of(*overs, Over(19 * hour, 19 * hour + hour // 2, "fm"), Over(19 * hour, 20 * hour, None), window=(0, day))
    assert found["busy_hour"] == {
        "start": "19:00",
        "erlang": 3.5,
        "days": 1,
    }  # an over without a mode is in the channel's figures
    assert of(*overs, window=(0, 2 * day), blind=[(day, 2 * day)])["busy_hour"] == {
        "start": "19:00",
        "erlang": 2.0,
        "days": 1,
    }


def test_a_mode_without_slots_has_no_slot_seconds() -> None:
    fm = of(Over(0, 60, "fm"))["modes"]["fm"]
    assert fm["slot_s"] == {} and fm["both_slots_s"] is None and fm["erlang"] == 30 / 120


def test_a_mode_that_only_holds_in_the_window_is_seen_in_it_with_its_idle_hold_and_whom_it_shut_out() -> None:
    found = of(
        Over(-20, -10), refusals=[Refused(4, "fm", reason="other-mode")], rules=rules(40)
    )  # over at -5 s, holds until 15 s
    assert found["modes"]["dmr"]["idle_hold_s"] == found["channel"]["idle_hold_s"] == 15.0
    assert found["modes"]["dmr"]["shut_outs_caused"] == 1 and found["shut_outs"][0]["held_by"] == "dmr"
    assert "dmr" not in of(Over(-20, -10), rules=rules(10))["modes"]


def test_airtime_is_clipped_to_the_window_but_an_over_counts_where_it_starts() -> None:
    over = Over(-20, 20)  # 10 s on either side
    assert of(over)["channel"]["airtime_s"] == 10.0 and of(over)["channel"]["overs"] == 0
    assert (
        of(over, window=(-40, 0))["channel"]["airtime_s"] == 10.0 and of(over, window=(-40, 0))["channel"]["overs"] == 1
    )


def test_an_over_that_starts_just_when_the_window_ends_belongs_to_the_next() -> None:
    assert of(Over(240, 260))["channel"]["overs"] == 0
    assert of(Over(240, 260), window=(240, 300))["channel"]["overs"] == 1


def test_keyed_time_adds_each_tail_and_lets_the_next_over_swallow_it() -> None:
    found = of(Over(0, 20), Over(22, 42), rules=rules(tail={"default": 4}))  # 2 s tails: 0-23 s
    assert found["channel"]["keyed_s"] == 23.0


def test_duty_finds_the_fullest_six_minutes_even_where_they_begin_before_the_window() -> None:
    found = of(Over(-360, 0, "fm"), window=(0, 240))  # keyed for the 180 s before
    assert found["duty"]["6min"] == {
        "share": 0.5,
        "from": "2026-11-15T23:54:00+00:00",
        "to": "2026-11-16T00:00:00+00:00",
    }


def test_without_anything_keyed_duty_is_nought_and_nowhere() -> None:
    assert of()["duty"]["60min"] == {"share": 0.0, "from": None, "to": None}


def test_occupancy_is_of_the_seen_time_only() -> None:
    found = of(Over(0, 60), blind=[(120, 240)])
    assert found["window"]["blind_s"] == 60.0 and found["channel"]["occupancy"] == 0.5


def test_every_figure_of_a_window_of_which_nothing_was_seen_is_null() -> None:
    found = of(refusals=[Refused(5)], blind=[(-10, 500)])
    leaves = [
        value
        for part in ("channel", "busy_hour", "talk", *())
        for name, value in found[part].items()
        if name != "seen_s"
    ]
    leaves += [value for its in found["duty"].values() for value in its.values()]
    assert set(leaves) == {None} and found["channel"]["seen_s"] == 0.0
    assert found["modes"] == {} and found["shut_outs"] is None and found["likely_waiters_estimated"] is None


def test_an_over_is_seen_whatever_the_logs_of_lines_say() -> None:
    """Found as an occupancy of 350 %: a blind hour with an over of half an hour in it, and seven minutes seen."""
    found = of(Over(0, 180, "fm"), blind=[(0, 200)], window=(0, 240))
    assert (found["channel"]["seen_s"], found["window"]["blind_s"]) == (110.0, 10.0)
    assert found["channel"]["occupancy"] == pytest.approx(90 / 110) and found["modes"]["fm"]["erlang"] == pytest.approx(
        90 / 110
    )


def test_traffic_never_exceeds_the_streams() -> None:
    """Found as 170 erlang: 17 s of overs over a tenth of a second seen."""
    found = of(Over(0, 34, "fm"), blind=[(0, 240)], window=(0, 240))
    assert found["modes"]["fm"]["erlang"] == 1.0 and found["channel"]["occupancy"] == 1.0


def test_keyed_and_idle_time_never_exceed_what_was_seen() -> None:
    """Found as 212 % keyed: tails and holds that ran on into time of which nothing is known."""
    found = of(Over(0, 20, "fm"), blind=[(20, 240)], rules=rules(40, tail={"default": 30}))
    assert found["channel"]["keyed_s"] == found["channel"]["seen_s"] == 10.0 and found["channel"]["idle_hold_s"] == 0.0


def test_an_over_far_beyond_the_time_out_is_an_overrun_and_came_near_nothing() -> None:
    """Found as an over of 3 h 37 min that "came near" a time-out of 3 min."""
    for cause in (None, "released", "lost"):
        dstar = of(Over(0, 2 * 13_020, "dstar", cause=cause))["modes"]["dstar"]
        assert (dstar["overruns"], dstar["near_timeouts"], dstar["timeouts"], dstar["timeouts_estimated"]) == (
            1,
            0,
            0,
            0,
        )
    edge = of(Over(0, 2 * 190, "dstar", cause=None))["modes"]["dstar"]  # time-out and grace, to the tick
    assert (edge["overruns"], edge["timeouts_estimated"]) == (0, 1)


def test_stations_of_a_mode_whose_overs_name_none_are_not_known() -> None:
    """Found as FM with 725 overs and 0 stations."""
    found = of(Over(0, 20, "fm"), Over(40, 60, "fm"), Over(80, 100, "dmr", station="QA1AAA"))
    assert (found["modes"]["fm"]["stations"], found["modes"]["dmr"]["stations"], found["channel"]["stations"]) == (
        None,
        1,
        1,
    )
    unsided = of(Over(0, 2, "fm", side=None))["modes"]["fm"]
    assert (unsided["air_overs"], unsided["link_overs"], unsided["kerchunks"]) == (None, None, None)


def test_who_starts_where_another_cut_the_hold_short_did_not_wait_for_it() -> None:
    cut = [
        Over(0, 20, "dstar"),
        Over(30, 50, "fm", side="link"),
        Over(52, 60, "dmr"),
    ]  # FM breaks into D-STAR's hold, and holds 20 s itself
    assert of(*cut, rules=rules(40))["likely_waiters_estimated"] == 0
    assert (
        of(Over(0, 20, "dstar"), Over(62, 70, "dmr"), rules=rules(40))["likely_waiters_estimated"] == 1
    )  # the hold ran out at 30 s


def test_what_is_estimated_of_pages_is_in_no_counted_figure() -> None:
    pages = [Paged(0, 20), Paged(100, None, likely=30), Paged(110, None, likely=40), Paged(200, None)]
    channel = of(pages=pages)["channel"]
    assert (channel["pages"], channel["pages_estimated"]) == (4, 2)
    assert channel["pages_airtime_estimated_s"] == 25.0  # ticks 100 to 150, of half a second
    counted = of(pages=[Paged(0, 20), Paged(100, None), Paged(110, None), Paged(200, None)])["channel"]
    same = channel.keys() - {"pages_estimated", "pages_airtime_estimated_s"}
    assert {name: channel[name] for name in same} == {name: counted[name] for name in same}
    assert counted["pages_airtime_estimated_s"] is None and of(Over(0, 20))["channel"]["pages_airtime_estimated_s"] == 0


def test_a_page_of_known_length_is_a_transmission_and_no_over() -> None:
    found = of(pages=[Paged(0, 20), Paged(100, None)], rules=rules(10, tail={"default": 4}))
    channel, pocsag = found["channel"], found["modes"]["pocsag"]
    assert (channel["airtime_s"], channel["keyed_s"], channel["idle_hold_s"], channel["overs"], channel["pages"]) == (
        10.0,
        12.0,
        5.0,
        0,
        2,
    )
    assert (pocsag["pages"], pocsag["overs"], pocsag["stations"], pocsag["airtime_s"]) == (2, 0, 0, 10.0)
    unknown = of(pages=[Paged(100, None)])["modes"]["pocsag"]
    assert (unknown["pages"], unknown["airtime_s"], unknown["erlang"]) == (1, None, None)


def test_a_hold_follows_each_over_and_is_cut_short_by_the_next() -> None:
    found = of(Over(0, 20, "dstar"), Over(30, 50, "fm"), rules=rules(40))  # 10-15 s, then 25-45 s
    assert found["modes"]["dstar"]["idle_hold_s"] == 5.0
    assert found["modes"]["fm"]["idle_hold_s"] == 20.0
    assert found["channel"]["idle_hold_s"] == 25.0


def test_the_hold_of_a_slot_that_falls_silent_is_not_idle_while_the_other_talks() -> None:
    found = of(Over(0, 20, slot=1), Over(10, 80, slot=2), rules=rules(40))
    assert found["modes"]["dmr"]["idle_hold_s"] == 20.0  # only after second 40


def test_an_over_without_a_mode_is_the_channels_and_no_modes() -> None:
    found = of(Over(0, 20, None), rules=rules(20, tail={"default": 2}))
    assert found["modes"] == {}
    assert (found["channel"]["airtime_s"], found["channel"]["keyed_s"], found["channel"]["idle_hold_s"]) == (
        10.0,
        11.0,
        10.0,
    )


def test_refusals_less_than_ten_seconds_apart_are_one_attempt_however_long_the_chain() -> None:
    chain = [Refused(t, "fm", reason="other-mode") for t in (0, 19, 38, 58)]  # 58 is 10 s after 38
    assert of(refusals=chain)["modes"]["fm"]["shut_outs_suffered"] == 2


def test_a_refusal_without_a_reason_is_a_shut_out_where_another_mode_holds() -> None:
    over = Over(0, 20, "dstar")  # holds until second 30
    inside, after = Refused(40, "dmr", station="QA1AAA"), Refused(62, "dmr", station="QB2BBB")
    found = of(over, refusals=[inside, after])
    assert found["shut_outs"] == [{"held_by": "dstar", "wanted": "dmr", "attempts": 1, "mean_wait_s": 10.0}]
    assert found["modes"]["dstar"]["shut_outs_caused"] == found["modes"]["dmr"]["shut_outs_suffered"] == 1


def test_a_refusal_in_what_its_own_mode_holds_is_no_shut_out() -> None:
    assert of(Over(0, 20), refusals=[Refused(10)])["shut_outs"] == []


def test_a_shut_out_that_the_host_reports_but_no_hold_explains_has_an_unknown_holder_and_no_wait() -> None:
    rows = of(refusals=[Refused(10, None, reason="other-mode")])["shut_outs"]
    assert rows == [{"held_by": "unknown", "wanted": "unknown", "attempts": 1, "mean_wait_s": None}]


def test_where_two_modes_hold_the_holder_is_the_one_that_began_first() -> None:
    rows = of(Over(10, 60, "fm"), Over(0, 60, "dstar"), refusals=[Refused(20)])["shut_outs"]
    assert [row["held_by"] for row in rows] == ["dstar"]


def test_a_wait_runs_on_behind_the_window() -> None:
    found = of(Over(200, 300, "fm"), refusals=[Refused(220)], rules=rules(40), window=(0, 240))
    assert found["shut_outs"][0]["mean_wait_s"] == 60.0


def test_shut_outs_stand_most_first_and_then_by_name() -> None:
    calls = [Refused(t, mode, reason="other-mode") for t, mode in ((0, "p25"), (0, "fm"), (60, "fm"), (0, "c4fm"))]
    assert [(row["wanted"], row["attempts"]) for row in of(refusals=calls)["shut_outs"]] == [
        ("fm", 2),
        ("c4fm", 1),
        ("p25", 1),
    ]


@pytest.mark.parametrize(("gap", "waiters"), [(0, 1), (5, 1), (6, 0)])
def test_a_likely_waiter_starts_within_three_seconds_of_the_end_of_anothers_hold(gap: int, waiters: int) -> None:
    assert of(Over(0, 20, "fm"), Over(40 + gap, 60, "dmr"), rules=rules(20))["likely_waiters_estimated"] == waiters


def test_nobody_waits_for_the_hold_of_the_own_mode_or_from_a_link() -> None:
    assert of(Over(0, 20, "fm"), Over(41, 60, "fm"), rules=rules(20))["likely_waiters_estimated"] == 0
    assert of(Over(0, 20, "fm"), Over(41, 60, "dmr", side="link"), rules=rules(20))["likely_waiters_estimated"] == 0


def test_three_stations_at_once_are_three_doublings_and_one_station_twice_is_none() -> None:
    overs = [Over(0, 40, station="QA1AAA"), Over(2, 40, station="QB2BBB"), Over(4, 40, station="QC3CCC")]
    assert of(*overs)["modes"]["dmr"]["doublings"] == 3
    assert of(Over(0, 40, station="QA1AAA"), Over(2, 40, station="QA1AAA"))["modes"]["dmr"]["doublings"] == 0


def test_different_slots_unknown_stations_and_mere_touching_are_no_doubling_but_busy_is() -> None:
    first = Over(0, 40, slot=1, station="QA1AAA")
    others = [Over(2, 30, slot=2, station="QB2BBB"), Over(2, 30, slot=1), Over(40, 50, slot=1, station="QC3CCC")]
    assert of(first, *others)["modes"]["dmr"]["doublings"] == 0
    assert of(first, refusals=[Refused(4, reason="busy")])["modes"]["dmr"]["doublings"] == 1


def test_the_risk_of_a_shut_out_is_the_share_of_seen_time_that_other_modes_hold() -> None:
    found = of(
        Over(0, 20, "dstar"), Over(100, 120, "fm"), rules=rules(40), blind=[(200, 240)]
    )  # 0-30 s, 50-80 s of 100 s
    assert found["modes"]["fm"]["shut_out_risk"] == 0.3 and found["modes"]["dstar"]["shut_out_risk"] == 0.3


def test_time_outs_are_told_inferred_or_nearly_reached() -> None:
    limit = Rules(timeout=120, hold={"default": 0})  # 60 s
    told, inferred = Over(0, 80, cause="timeout"), Over(0, 119)
    near, released = Over(0, 108), Over(0, 119, cause="released")
    dmr = of(told, inferred, near, released, Over(0, 107), rules=limit)["modes"]["dmr"]
    assert (dmr["timeouts"], dmr["timeouts_estimated"], dmr["near_timeouts"]) == (1, 1, 2)


def test_an_attempt_refused_as_locked_out_is_a_lockout_and_no_shut_out() -> None:
    found = of(Over(0, 40, "fm"), refusals=[Refused(10, reason="lockout")])
    assert found["modes"]["dmr"]["timeout_lockouts"] == 1 and found["shut_outs"] == []


def test_an_unfinished_over_adds_no_airtime_and_can_have_lasted_to_the_next_event_or_the_time_out() -> None:
    world = World(lost=[Lost(0, 30), Lost(40)])
    assert airtime.longest_unfinished(world.activity().unfinished, world.rules.timers()).tolist() == [
        15_000_000,
        180_000_000,
    ]
    found = of(lost=world.lost)
    assert found["channel"]["unfinished"] == 2 and found["channel"]["unfinished_longest_s"] == 195.0
    assert found["channel"]["overs"] == found["modes"]["dmr"]["overs"] == 0
    assert of(Over(60, 80), lost=world.lost)["channel"]["airtime_s"] == 10.0


def test_an_event_stamped_before_an_unfinished_over_tells_nothing_of_its_length() -> None:
    """A start at 00:10:00, and after it in the file the host's restart, stamped 00:02:00."""
    assert of(lost=[Lost(100, 4)])["channel"]["unfinished_longest_s"] == 180.0
    assert of(lost=[Lost(100, 4), Lost(110, 120)])["channel"]["unfinished_longest_s"] == 185.0


UNMEASURED = ("airtime_s", "occupancy", "keyed_s", "idle_hold_s")
NO_BUSY_HOUR = {"start": None, "erlang": None, "days": None}


@pytest.mark.parametrize("what", [{"pages": [Paged(10, None)]}, {"lost": [Lost(10, 30)]}])
def test_nothing_but_what_is_of_unknown_length_gives_no_airtime_rather_than_none(what: dict[str, Any]) -> None:
    found = of(**what, window=(0, 172_800))
    assert {found["channel"][name] for name in UNMEASURED} == {None}
    assert found["busy_hour"] == NO_BUSY_HOUR
    assert {its["share"] for its in found["duty"].values()} == {None}
    (mode,) = found["modes"].values()
    assert mode["airtime_s"] is mode["erlang"] is mode["idle_hold_s"] is None
    mixed = of(Over(60, 80, "p25"), **what, window=(0, 172_800))
    assert mixed["channel"]["airtime_s"] == 10.0 and mixed["busy_hour"]["erlang"] and mixed["duty"]["6min"]["share"]


def test_starts_without_ends_tell_no_stations_no_talk_and_no_waiters() -> None:
    found = of(lost=[Lost(10, 30)])
    assert found["channel"]["stations"] is found["modes"]["dmr"]["stations"] is None
    assert found["likely_waiters_estimated"] is None and set(found["talk"].values()) == {None}
    assert (found["channel"]["overs"], found["channel"]["unfinished"]) == (0, 1)


def test_nothing_but_ends_without_starts_gives_no_airtime_rather_than_none() -> None:
    world, orphaned = World(), LineCounts(lines=1, understood=1, orphans=1)
    found = figures(world.activity(), world.window_us, world.rules.timers(), LONDON, "QB0BFR", orphaned).as_json()
    assert {found["channel"][name] for name in (*UNMEASURED, "stations")} == {None}


def test_likely_waiters_are_not_known_where_no_over_has_a_side() -> None:
    sides = {side: of(Over(0, 20, "fm", side=side), Over(61, 80, side=side)) for side in (None, "air")}
    assert [sides[side]["likely_waiters_estimated"] for side in (None, "air")] == [None, 1]


TALK = (
    Over(0, 20, "dstar", station="QA1AAA", target="QB0BFR A"),
    Over(21, 40, "dstar", station="QB2BBB", target="QB0BFR A"),  # 0.5 s after
    Over(46, 60, "dstar", station="QA1AAA", target="QB0BFR A"),  # 3 s after
)


def test_a_conversation_has_turnaround_gaps_of_which_some_are_short() -> None:
    assert of(*TALK)["talk"] == {
        "conversations": 1,
        "turnaround_median_s": 1.75,
        "short_gap_share": 0.5,
        "local_on_wide_s": 0.0,
        "local_on_wide": 0,
    }


def test_of_two_overs_that_start_together_the_one_that_ends_later_is_the_one_before_the_next() -> None:
    overs = [Over(0, 20, station="QA1AAA"), Over(0, 10, station="QB2BBB"), Over(25, 40, station="QB2BBB")]
    assert of(*overs)["talk"]["turnaround_median_s"] == 2.5


def test_a_pause_of_more_than_thirty_seconds_ends_a_conversation() -> None:
    one, other = Over(0, 20, station="QA1AAA"), Over(80, 90, station="QB2BBB")
    assert of(one, other)["talk"]["conversations"] == 1
    assert of(one, Over(81, 90, station="QB2BBB"))["talk"]["conversations"] == 0


def test_one_station_or_two_unknown_ones_are_no_conversation() -> None:
    assert of(Over(0, 20, station="QA1AAA"), Over(30, 40, station="QA1AAA"))["talk"]["conversations"] == 0
    assert of(Over(0, 20), Over(30, 40))["talk"]["conversations"] is None  # no over names a station: nobody knows
    assert of(Over(0, 20))["talk"]["turnaround_median_s"] is None and of(Over(0, 20))["talk"]["short_gap_share"] is None


def test_local_talk_on_a_wide_target_is_all_from_the_air_and_united_in_time() -> None:
    wide = Rules(wide=frozenset({("dstar", "QB0BFR A")}))
    talk = of(*TALK, rules=wide)["talk"]
    assert (talk["local_on_wide"], talk["local_on_wide_s"]) == (1, 26.5)
    linked = Over(62, 70, "dstar", side="link", station="QC3CCC", target="QB0BFR A")
    assert of(*TALK, linked, rules=wide)["talk"]["local_on_wide"] == 0
    assert of(*TALK, rules=Rules(wide=frozenset({("dmr", "QB0BFR A")})))["talk"]["local_on_wide"] == 0
    assert of(*TALK, rules=Rules(wide=frozenset({(None, "QB0BFR A")})))["talk"]["local_on_wide"] == 1


def test_whether_talk_on_a_wide_target_was_local_is_not_known_where_no_over_has_a_side() -> None:
    wide = Rules(wide=frozenset({("dstar", "QB0BFR A")}))
    unsided = [replace(over, side=None) for over in TALK]
    talk = of(*unsided, rules=wide)["talk"]
    assert talk["conversations"] == 1 and talk["local_on_wide"] is talk["local_on_wide_s"] is None
    linked = [*unsided[:2], replace(unsided[2], side="link")]
    assert (of(*linked, rules=wide)["talk"]["local_on_wide"], of(*unsided)["talk"]["local_on_wide"]) == (0, 0)


def test_a_kerchunk_is_short_from_the_air_and_answered_by_nobody() -> None:
    assert of(Over(0, 2))["modes"]["dmr"]["kerchunks"] == 1
    assert of(Over(0, 3))["modes"]["dmr"]["kerchunks"] == 0  # 1.5 s
    assert of(Over(0, 2, side="link"))["modes"]["dmr"]["kerchunks"] == 0
    assert of(Over(0, 2, station="QA1AAA"), Over(10, 30, station="QB2BBB"))["modes"]["dmr"]["kerchunks"] == 0


def test_times_carry_the_offset_that_the_zone_has_then() -> None:
    base = dt.datetime(2026, 10, 25, 0, 30, tzinfo=dt.UTC)  # 01:30 summer time; an hour later it is 01:30 again
    window = of(base=base, window=(0, 7200))["window"]
    assert (window["from"], window["to"]) == ("2026-10-25T01:30:00+01:00", "2026-10-25T01:30:00+00:00")


def test_the_shape_is_the_contracts() -> None:
    found = of(Over(0, 20, slot=1))
    assert list(found) == [
        "repeater",
        "window",
        "channel",
        "modes",
        "shut_outs",
        "likely_waiters_estimated",
        "busy_hour",
        "duty",
        "talk",
        "intake",
    ]
    assert set(found["modes"]["dmr"]) == {
        "airtime_s",
        "slot_s",
        "both_slots_s",
        "erlang",
        "overs",
        "air_overs",
        "link_overs",
        "stations",
        "idle_hold_s",
        "timeouts",
        "timeouts_estimated",
        "near_timeouts",
        "overruns",
        "pages",
        "timeout_lockouts",
        "kerchunks",
        "shut_outs_suffered",
        "shut_outs_caused",
        "shut_out_risk",
        "doublings",
        "pages_estimated",
        "pages_airtime_estimated_s",
    }
    assert set(found["channel"]) == {
        "seen_s",
        "airtime_s",
        "occupancy",
        "keyed_s",
        "idle_hold_s",
        "overs",
        "pages",
        "overruns",
        "unfinished",
        "unfinished_longest_s",
        "stations",
        "pages_estimated",
        "pages_airtime_estimated_s",
    }
    unseen = of(Over(0, 20, slot=1), window=(0, 0))
    assert unseen.keys() == found.keys() and all(
        unseen[part].keys() == found[part].keys() for part in ("window", "channel", "duty", "talk")
    )
    assert set(found["duty"]) == {"6min", "30min", "60min"}
    assert not [
        value for value in _leaves(found) if isinstance(value, np.generic)
    ]  # plain numbers, so that JSON takes them


def _leaves(value: Any) -> list[Any]:
    if isinstance(value, dict):
        return [leaf for part in value.values() for leaf in _leaves(part)]
    return [leaf for part in value for leaf in _leaves(part)] if isinstance(value, list) else [value]
