"""The rules: what raises, what doesn't, when, and that nothing is known before it was written."""

import datetime as dt
from dataclasses import replace

import numpy as np
import portion
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.alerts.disk_and_clock import DiskAndClock, watch_disk_and_clock
from server.alerts.engine import instants, replay, run
from server.alerts.history import NEVER, PAGE, History
from server.alerts.incident import levels, stretches
from server.alerts.limits import MINUTE, WIDTHS, Limits
from server.alerts.rules import usual_most
from shared.events import MODES
from shared.zones import DAY, HOUR, SECOND, from_us, to_us
from tests.alerts.worlds import DAY0, LIMITS, T0, ZONE, every, history, over, s

WEEK = 7 * DAY


def rules_of(found, rule: str) -> list[tuple[str, int, int | None]]:  # type: ignore[no-untyped-def]
    return [(one.subject, one.raised, one.cleared) for one in found if one.rule == rule]


# An over that runs on


def test_an_open_over_is_raised_at_timeout_plus_grace_and_not_before() -> None:
    world = history([over(T0, None)])
    assert rules_of(replay(world, T0, T0 + s(190), LIMITS), "over-runs-on") == []
    assert rules_of(replay(world, T0, T0 + s(191), LIMITS), "over-runs-on") == [("dmr/1", T0 + s(190), None)]


def test_it_is_cleared_at_the_end_of_the_over() -> None:
    world = history([over(T0, 7200, mode="dstar", slot=0)])
    assert rules_of(replay(world, T0, T0 + 3 * HOUR, LIMITS), "over-runs-on") == [("dstar", T0 + s(190), T0 + 2 * HOUR)]
    assert rules_of(replay(world, T0, T0 + HOUR, LIMITS), "over-runs-on") == [("dstar", T0 + s(190), None)]


def test_an_over_within_the_grace_raises_nothing() -> None:
    assert rules_of(replay(history([over(T0, 190.0)]), T0, T0 + HOUR, LIMITS), "over-runs-on") == []


def test_a_long_over_that_is_written_at_its_end_is_raised_and_cleared_there() -> None:
    world = history([over(T0, 400, whole=True)])
    assert rules_of(replay(world, T0, T0 + s(400), LIMITS), "over-runs-on") == []
    assert rules_of(replay(world, T0, T0 + HOUR, LIMITS), "over-runs-on") == [("dmr/1", T0 + s(400), T0 + s(400))]


def test_what_was_raised_before_a_replays_window_is_not_raised_in_it() -> None:
    world = history([over(T0, 7200)])
    assert rules_of(replay(world, T0 + s(300), T0 + 3 * HOUR, LIMITS), "over-runs-on") == []


# The share that was known to be keyed


@st.composite
def worlds(draw: st.DrawFn) -> History:
    """Overs of up to ten minutes within two hours, some written at their end only, some open, on two slots."""
    rows = []
    for _ in range(draw(st.integers(0, 14))):
        length = draw(st.one_of(st.integers(1, 600), st.none()))
        whole = draw(st.booleans()) and length is not None
        rows.append(
            over(
                T0 + s(draw(st.integers(0, 7200))),
                length,
                draw(st.integers(-1, 3)),
                slot=draw(st.sampled_from([1, 2])),
                whole=whole,
            )
        )
    return history(rows, tail_s=draw(st.sampled_from([0.0, 2.0])))


@given(worlds(), st.lists(st.integers(0, 9000), min_size=1, max_size=5))
@settings(max_examples=40, deadline=None)
def test_the_keyed_share_is_that_of_what_was_known_at_the_instant(world: History, seconds: list[int]) -> None:
    # portion: a reference library of interval arithmetic.
    nows = np.array(sorted(T0 + s(second) for second in seconds), dtype=np.int64)
    for width in (6 * MINUTE, HOUR):
        for now, share in zip(nows.tolist(), world.keyed_share(nows, width), strict=True):
            known = portion.empty()
            for start, end, whole, tail in zip(world.start, world.end, world.whole, world.tail, strict=True):
                if (end if whole else start) <= now:
                    known |= portion.closedopen(int(start), int(end + tail))
            part = known & portion.closedopen(now - width, now)
            assert share * width == pytest.approx(sum(one.upper - one.lower for one in part if not one.empty), abs=0.5)


@given(
    worlds(), st.integers(1, 130).map(lambda minutes: 60 * minutes), st.integers(0, 3000)
)  # a last look is an instant of its own
@settings(max_examples=40, deadline=None)
def test_what_a_replay_finds_up_to_an_instant_does_not_change_by_what_comes_after(
    world: History, first: int, more: int
) -> None:
    early, late = T0 + s(first), T0 + s(first + more)
    before = {(one.rule, one.subject, one.raised): one for one in run(world.upto(early), T0 - HOUR, early, LIMITS, {})}
    # a whole over that is known later can stand between two stations' overs: turns may differ then
    whole_ends = not world.whole.any()
    for one in run(world, T0 - HOUR, late, LIMITS, {}):
        if one.raised <= early and (one.rule == "over-runs-on" or whole_ends):
            same = before.pop((one.rule, one.subject, one.raised))
            assert same.urgent == one.urgent
            if (
                one.rule == "over-runs-on"
            ):  # which over, whatever is known since of its end and of others that overlap it
                assert same.says.split(" ran on")[0] == one.says.split(" ran on")[0]
            else:
                assert same.says == one.says or same.cleared != one.cleared
            assert same.cleared == (one.cleared if one.cleared is not None and one.cleared <= early else None)
    assert not before or not whole_ends


@given(worlds(), st.lists(st.integers(1, 150), min_size=1, max_size=12))
@settings(max_examples=25, deadline=None)
def test_looking_again_and_again_finds_what_a_replay_finds(world: History, looks: list[int]) -> None:
    stops = sorted({T0 + minute * MINUTE for minute in looks})
    grown: dict[tuple[str, str, int], int | None] = {}
    after = T0 - HOUR
    for now in stops:
        opened = {(rule, subject): raised for (rule, subject, raised), cleared in grown.items() if cleared is None}
        for one in run(world, after, now, LIMITS, opened):
            key = (one.rule, one.subject, one.raised)
            if grown.get(key) is None:
                grown[key] = one.cleared
        after = now
    whole = run(world, T0 - HOUR, stops[-1], LIMITS, {})
    if not world.whole.any():
        assert grown == {(one.rule, one.subject, one.raised): one.cleared for one in whole}
    assert {key for key in grown if key[0] == "over-runs-on"} == {
        (one.rule, one.subject, one.raised) for one in whole if one.rule == "over-runs-on"
    }


# Duty


def keying_again(start: int, minutes: float, gap: float = 0.2, length: float = 90.0, **more: object) -> list:  # type: ignore[type-arg]
    rows, at = [], start
    while at < start + minutes * MINUTE:
        rows.append(over(at, length, **more))  # type: ignore[arg-type]
        at += s(length + gap)
    return rows


@pytest.mark.parametrize("begun", [T0, DAY0], ids=["by night", "by day"])
@pytest.mark.parametrize("whole", [False, True])
def test_a_transmitter_that_keys_again_and_again_is_found_within_ten_minutes(begun: int, whole: bool) -> None:
    world = history(keying_again(begun, 60, whole=whole, station=3))
    (first, *_) = rules_of(replay(world, begun, begun + HOUR, LIMITS), "duty")
    assert first[0] == "transmitter" and first[1] - begun < 10 * MINUTE


def net(start: int, minutes: float, gap: float, tail_s: float = 0.0) -> History:
    """People in turn, 25 s each."""
    rows, at, number = [], start, 0
    while at < start + minutes * MINUTE:
        rows.append(over(at, 25.0, number % 7))
        at, number = at + s(25 + gap), number + 1
    return history(rows, tail_s=tail_s)


def test_people_who_take_turns_all_night_wake_nobody() -> None:
    found = replay(net(T0 - 3 * HOUR, 600, 1.0), T0 - 3 * HOUR, T0 + 8 * HOUR, LIMITS)
    assert [one for one in found if one.urgent] == []


def test_a_full_hour_without_a_gap_is_more_than_people_can_do() -> None:
    (first, *_) = rules_of(replay(net(T0, 120, 0.0), T0, T0 + 2 * HOUR, LIMITS), "duty")
    assert first[1] - T0 == pytest.approx(30 * MINUTE, abs=MINUTE)


def test_a_duty_sentence_says_whether_stations_took_turns_and_names_the_limit_that_raised_it() -> None:
    (stuck, *_) = [
        one for one in replay(history(keying_again(T0, 60, station=3)), T0, T0 + HOUR, LIMITS) if one.rule == "duty"
    ]
    assert "stations hardly took turns; the limit in the quiet hours is" in stuck.says
    (full, *_) = [one for one in replay(net(T0, 120, 0.0), T0, T0 + 2 * HOUR, LIMITS) if one.rule == "duty"]
    assert "though stations took turns; the limit where they do is 99.9 %." in full.says


def test_a_tail_that_bridges_every_gap_of_a_net_wakes_nobody() -> None:
    found = replay(net(T0, 120, 1.0, tail_s=2.0), T0, T0 + 2 * HOUR, LIMITS)
    assert rules_of(found, "duty") == []


def test_the_rating_counts_whoever_talks_and_wakes_nobody() -> None:
    limits = Limits(ZONE, 180 * SECOND, rating=0.5)
    found = [one for one in replay(net(DAY0, 120, 1.0), DAY0, DAY0 + 4 * HOUR, limits) if one.rule == "duty"]
    assert [(one.subject, one.urgent) for one in found] == [("transmitter/rating", False)]
    assert found[0].raised - DAY0 == pytest.approx(
        31.2 * MINUTE, abs=MINUTE
    )  # 26 of 30 s keyed: 50 % of an hour after 31.2 min
    assert found[0].cleared is not None and found[0].cleared > DAY0 + 2 * HOUR


def test_the_quiet_hours_follow_the_local_clock_over_a_clock_change() -> None:
    # The clocks went back on 2026-10-25 at 01:00 UTC (IANA tz database, Europe/London).
    limits = Limits(ZONE, 180 * SECOND)
    for text, quiet in (
        ("2026-10-24T22:59", False),
        ("2026-10-24T23:00", True),
        ("2026-10-25T06:59", True),
        ("2026-10-25T07:00", False),
    ):
        assert limits.quiet_at(to_us(dt.datetime.fromisoformat(text).replace(tzinfo=ZONE))) == quiet, text


@given(st.integers(0, 365 * 96 * 3), st.integers(1, 40))
@settings(max_examples=60, deadline=None)
def test_offsets_are_those_of_the_zone(first: int, step: int) -> None:
    base = to_us(dt.datetime(2025, 1, 1, tzinfo=dt.UTC)) + first * 15 * MINUTE
    asked = base + np.arange(300, dtype=np.int64) * step * 15 * MINUTE
    expected = [round((from_us(int(t), ZONE).utcoffset() or dt.timedelta()).total_seconds()) * SECOND for t in asked]
    assert LIMITS.offsets(asked).tolist() == expected


# Unlike itself


def tuesday_nets(weeks: int, first: dt.date = dt.date(2026, 8, 25)) -> tuple[list, list[int]]:  # type: ignore[type-arg]
    """A net from 20:00 to 21:05 local on Tuesdays; people in turn."""
    rows, starts = [], []
    for week in range(weeks):
        start = to_us(dt.datetime.combine(first + dt.timedelta(weeks=week), dt.time(20), tzinfo=ZONE))
        starts.append(start)
        world = net(start, 65, 2.0)
        rows += list(
            zip(world.start, world.end, world.whole, world.mode, world.slot, world.side, world.station, strict=True)
        )
    return rows, starts


def test_a_tuesday_net_does_not_alarm_and_three_at_night_does() -> None:
    rows, starts = tuesday_nets(13)  # a clock change lies between them
    night = starts[-1] + 31 * HOUR  # 03:00 on the Thursday after
    rows += keying_again(night, 50, gap=60.0, length=60.0)  # keyed for half of the time, nothing else would notice
    world = history(rows, lines=every(starts[0] - 13 * WEEK, night + 2 * HOUR, 300))
    found = [one for one in replay(world, starts[0], night + 2 * HOUR, LIMITS) if one.rule == "unlike-itself"]
    assert [(one.urgent, one.raised > night) for one in found][-1] == (True, True)
    assert all(one.raised < starts[6] + 3 * HOUR for one in found[:-1])  # once it is known, the net is as usual
    assert not any(one.urgent for one in found[:-1])  # before that, people were taking turns


def test_it_says_nothing_before_it_knows_six_weeks() -> None:
    nows = np.array([T0], dtype=np.int64)
    for weeks, known in ((5, False), (7, True)):
        world = history([], lines=every(T0 - weeks * WEEK - 3 * HOUR, T0, 300))
        assert np.isfinite(usual_most(world, nows, LIMITS))[0] == known


def test_weeks_that_were_not_seen_do_not_count() -> None:
    world = history(
        [], lines=every(T0 - 14 * WEEK, T0, 300), blind=np.array([[T0 - 10 * WEEK, T0 - DAY]], dtype=np.int64)
    )
    assert np.isinf(usual_most(world, np.array([T0], dtype=np.int64), LIMITS))[0]


# Chatter, silence, links, intake


def test_chatter_is_many_short_keyings_that_answer_nobody() -> None:
    burst = [over(T0 + s(60 * n), 0.4, mode="fm", slot=0) for n in range(30)]
    assert rules_of(replay(history(burst), T0, T0 + 3 * HOUR, LIMITS), "chatter")[0][:2] == (
        "air",
        T0 + s(60 * 19 + 0.4),
    )
    talk = [over(T0 + s(10 * n), 1.0, n % 2) for n in range(200)]
    assert rules_of(replay(history(talk), T0, T0 + 3 * HOUR, LIMITS), "chatter") == []
    carriers = every(T0, T0 + HOUR, 120)
    found = replay(history([], lines=carriers, carriers=carriers), T0, T0 + 3 * HOUR, LIMITS)
    assert [row[0] for row in rules_of(found, "chatter")] == ["air"]


def test_time_that_nobody_saw_is_no_silence_of_the_air_side() -> None:
    """An alert blamed the receiver six hours after the log itself had stopped."""
    overs = [over(T0 + n * HOUR, 20.0) for n in range(-24 * 40, 1)]
    lines, now, last = every(T0 - 960 * HOUR, T0 + 2 * MINUTE, 300.0), T0 + 20 * HOUR, T0 + s(20)

    def raised(*blind: tuple[int, int]) -> list[int]:
        world = history(overs, lines, blind=np.array(blind, dtype=np.int64).reshape(-1, 2))
        return [one.raised for one in replay(world, T0, now, LIMITS, only="gone-silent") if one.subject == "air"]

    assert raised() == [last + 6 * HOUR]
    assert raised((T0 + 2 * MINUTE, now)) == []
    assert raised((T0 + HOUR, T0 + 4 * HOUR)) == [last + 9 * HOUR]


def test_a_log_that_falls_silent_is_noticed_by_its_own_history() -> None:
    lines = every(T0 - 4 * WEEK, T0, 300)
    found = rules_of(replay(history([], lines=lines), T0, T0 + HOUR, LIMITS), "gone-silent")
    assert found == [("log host.log", int(lines[-1]) + 30 * MINUTE, None)]
    nightly = np.concatenate(
        [every(T0 - 4 * WEEK + day * DAY, T0 - 4 * WEEK + day * DAY + 16 * HOUR, 900) for day in range(28)]
    )
    assert (
        rules_of(replay(history([], lines=nightly), T0 - WEEK, T0, LIMITS), "gone-silent") == []
    )  # eight hours of it come every night
    assert rules_of(replay(history([], lines=nightly), T0 - WEEK, T0 + DAY, LIMITS), "gone-silent") != []
    young = every(T0 - 2 * DAY, T0, 300)
    assert rules_of(replay(history([], lines=young), T0, T0 + DAY, LIMITS), "gone-silent") == []


def test_a_deaf_receiver_shows_as_no_over_received_by_radio() -> None:
    rows = [over(T0 - 5 * WEEK + n * HOUR, 20.0, n % 5) for n in range(5 * 7 * 24)]
    rows += [over(T0 + n * HOUR, 20.0, n % 5, side="link") for n in range(24)]
    lines = every(T0 - 5 * WEEK, T0 + DAY, 300)
    last = T0 - HOUR + s(20)
    assert rules_of(replay(history(rows, lines=lines), T0, T0 + DAY, LIMITS), "gone-silent") == [
        ("air", last + 6 * HOUR, None)
    ]


def test_a_host_that_was_stopped_and_stays_so() -> None:
    stop = (np.array([T0, T0 + s(300), T0 + HOUR], dtype=np.int64), np.array([False, True, False]))
    found = rules_of(
        replay(history([], lines=stop[0], hosts={"/var/host.log": stop}), T0, T0 + 2 * HOUR, LIMITS), "gone-silent"
    )
    assert found == [("host host.log", T0 + HOUR + 10 * MINUTE, None)]


def test_a_link_that_is_down_longer_than_set_and_one_that_flaps() -> None:
    down = (
        np.array([T0, T0 + s(600), T0 + s(700), T0 + 3 * HOUR], dtype=np.int64),
        np.array([False, True, False, True]),
    )
    found = rules_of(replay(history([], links={"fellnet": down}), T0, T0 + DAY, LIMITS), "link-down")
    assert found == [("fellnet", T0 + s(700) + 15 * MINUTE, T0 + 3 * HOUR)]
    instants_ = T0 + np.arange(14, dtype=np.int64) * s(120)
    flapping = (instants_, np.arange(14) % 2 == 1)
    found = rules_of(replay(history([], links={"fellnet": flapping}), T0, T0 + DAY, LIMITS), "link-down")
    assert [row[:2] for row in found] == [("fellnet flapping", int(instants_[10]))]


def test_unread_lines_are_reported_by_their_share_of_the_hour() -> None:
    lines = every(T0, T0 + 4 * HOUR, 30)
    some = lines[(lines > T0 + 2 * HOUR) & (lines < T0 + 3 * HOUR)]
    found = rules_of(replay(history([], lines=lines, unread=some), T0, T0 + 6 * HOUR, LIMITS), "intake")
    assert [row[0] for row in found] == ["lines"] and found[0][1] - (T0 + 2 * HOUR) == pytest.approx(
        6 * MINUTE, abs=2 * MINUTE
    )
    assert found[0][2] is not None
    assert rules_of(replay(history([], lines=lines[:40], unread=lines[:40]), T0, T0 + 6 * HOUR, LIMITS), "intake") == []


def test_a_full_disk_a_clock_that_jumped_and_stamps_from_the_future() -> None:
    well = DiskAndClock(10 << 30, 0, 0)
    assert watch_disk_and_clock(well, T0, LIMITS, {}) == []
    ill = watch_disk_and_clock(DiskAndClock(1 << 20, -s(3600), s(7200)), T0, LIMITS, {})
    assert [one.subject for one in ill] == ["disk", "clock", "stamps"] and "set back by 1 h" in ill[1].says
    standing = {("intake", one.subject): one.raised for one in ill}
    later = watch_disk_and_clock(well, T0 + 11 * MINUTE, LIMITS, standing)
    assert [(one.subject, one.cleared) for one in later] == [
        (name, T0 + 11 * MINUTE) for name in ("disk", "clock", "stamps")
    ]


# Hysteresis


def test_a_level_between_its_two_limits_keeps_its_state() -> None:
    nows = np.arange(6, dtype=np.int64)
    level = levels(np.array([0, 1, 0, 0, 1, 0], dtype=bool), np.array([1, 0, 0, 1, 0, 0], dtype=bool))
    assert [(one.raised, one.cleared) for one in stretches(level, nows, None)] == [(1, 3), (4, None)]
    assert [(one.at, one.raised, one.cleared) for one in stretches(level, nows, -9)] == [
        (-1, -9, 0),
        (1, 1, 3),
        (4, 4, None),
    ]


def test_nobody_asks_at_the_start_of_an_over_that_is_written_at_its_end() -> None:
    asked = instants(history([over(T0 + s(10), 400.0, whole=True)]), T0, T0 + s(420), LIMITS) - T0
    assert asked.tolist() == [s(second) for second in (60, 120, 180, 240, 300, 360, 410, 420)]


def test_the_sentence_of_an_over_that_runs_on_names_its_limit_and_what_is_not_logged() -> None:
    (open_now,) = replay(history([over(T0, None)]), T0, T0 + s(191), LIMITS)
    assert "the limit is 3 min 10 s: the time-out of 3 min and 10 s of grace." in open_now.says
    assert "Its end is not logged: it still goes on, or the line is missing." in open_now.says
    (ended, *_) = replay(history([over(T0, 400.0)]), T0, T0 + HOUR, LIMITS)
    assert "not logged" not in ended.says


def test_without_names_nobody_says_whether_stations_took_turns() -> None:
    (one, *_) = [one for one in replay(history([over(T0, 400.0)]), T0, T0 + HOUR, LIMITS) if one.rule == "duty"]
    assert "whether stations took turns is not logged; the limit in the quiet hours" in one.says


def test_a_page_is_no_over_that_runs_on_and_no_chatter_but_keys_the_transmitter() -> None:
    pages = [(T0 + s(5 * n), T0 + s(5 * n + 1), True, MODES.index("pocsag"), 0, PAGE, -1) for n in range(60)]
    found = replay(
        history([*pages, (T0 + s(300), T0 + s(700), True, MODES.index("pocsag"), 0, PAGE, -1)]), T0, T0 + HOUR, LIMITS
    )
    assert {one.rule for one in found} == {"duty"}


def test_rules_are_asked_each_minute_and_whenever_an_over_begins_or_ends_or_becomes_too_long() -> None:
    world = history([over(T0 + s(10), 5.0), over(T0 + s(70), None)])
    asked = instants(world, T0, T0 + s(321), LIMITS) - T0
    assert asked.tolist() == [s(second) for second in (10, 15, 60, 70, 120, 180, 240, 260, 300, 321)]  # 260: too long
    assert NEVER not in asked and set(WIDTHS) == {"6min", "30min", "60min"}


def test_no_share_is_told_of_an_over_whose_end_is_not_logged() -> None:
    limits = Limits(ZONE, 180 * SECOND, rating=0.5)
    open_one = history([over(DAY0, None, mode="dstar", slot=0)])
    lost = replace(open_one, end=np.array([DAY0 + 2 * HOUR], dtype=np.int64))
    for world in (open_one, lost):
        found = [one for one in replay(world, DAY0, DAY0 + 3 * HOUR, limits) if one.rule == "duty"]
        assert {one.subject for one in found} == {"transmitter", "transmitter/rating"}
        for one in found:
            assert one.says.startswith(
                "If the over that began at 14:00:00 on Wed 18 Nov 2026, and had no end in the log, went on"
            )
            assert "filled 1" not in one.says and "keyed for 1" not in one.says


def test_an_over_without_an_end_that_is_past_is_not_said_to_go_on_still() -> None:
    lost = replace(history([over(T0, 7200)]), lost=np.array([True]))
    (one,) = [one for one in replay(lost, T0, T0 + 3 * HOUR, LIMITS) if one.rule == "over-runs-on"]
    assert one.says.endswith(
        "Its end is not logged; the next line about it came at 05:10:00 on Wed 18 Nov 2026. "
        "Whether it went on until then is not known."
    )


def test_a_share_just_above_the_rating_does_not_read_like_the_rating() -> None:
    limits = Limits(ZONE, 180 * SECOND, rating=0.5)
    found = [one for one in replay(net(DAY0, 120, 1.0), DAY0, DAY0 + 4 * HOUR, limits) if one.rule == "duty"]
    share = found[0].says.split(" of the hour")[0].removeprefix("The transmitter was keyed for ")
    assert share in ("just over 50 %", "51 %", "52 %")
