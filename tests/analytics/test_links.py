"""What each link brought and how it fared, by hand and by counting over by over (definitions.md, Links; no source
outside of it).
"""

from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import portion
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.analytics.figure_types import Stretch
from server.analytics.link_overs import LinkOvers, NotToldApart, carried
from server.analytics.link_silence import Silence, silences
from server.analytics.linking import Change, Key
from server.analytics.links import Heard, LinkFigures, Links, Outage, links, local_weeks, week_name
from shared import spans as sp
from shared.zones import HOUR, SECOND

MINUTE = 60 * SECOND
UTC = ZoneInfo("UTC")
A: Key = ("moorland", "dmr", "99920")
B: Key = ("moorland", "dstar", "FELLS C")

Over = tuple[int, int, str | None, str | None, float | None]  #: start, end, mode, target, loss


def lost(start: int, end: int, back: bool = True) -> Outage:
    """An outage of which all is known."""
    return Outage(start, end, end - start, back)


def overs(*rows: Over) -> LinkOvers:
    start, end, mode, target, loss = zip(*rows, strict=True) if rows else ([],) * 5
    whole = (np.array(column, dtype=np.int64) for column in (start, end))
    return LinkOvers(*whole, tuple(mode), tuple(target), np.array(loss, dtype=np.float64))


def heard_links(
    changes: dict[Key, list[Change]], told: LinkOvers, end: int, blind: sp.Spans = sp.NONE, until: int | None = None
) -> Links:
    """The links of [0, end), silences judged by that alone."""
    known = sp.difference(sp.spans([0], [min(end, end if until is None else until)]), blind)
    return links(changes, Heard(known, told, Stretch(0, end, UTC, 0.0)))


def one_link(changes: list[Change], *rows: Over, blind: sp.Spans = sp.NONE, until: int = 10 * HOUR) -> LinkFigures:
    (found,) = heard_links({A: changes}, overs(*rows), 10 * HOUR, blind, until).links
    return found


def test_availability_and_outages_by_hand() -> None:
    # Up from before the window, down for 2 of its 10 hours of which one is blind; the log ends after 9: 7 up, 1 down.
    changes = [(-5 * HOUR, True), (3 * HOUR, False), (5 * HOUR, True)]
    found = one_link(changes, blind=sp.spans([4 * HOUR], [5 * HOUR]), until=9 * HOUR)
    assert (found.known_s, found.down_s, found.availability) == (8 * 3600, 3600, 7 / 8)
    assert found.outages == (lost(3 * HOUR, 4 * HOUR),) and found.flaps == 0


def test_an_outage_shorter_than_a_minute_is_a_flap_and_no_outage() -> None:
    changes = [(0, True), (HOUR, False), (HOUR + 59 * SECOND, True), (2 * HOUR, False), (2 * HOUR + MINUTE, True)]
    found = one_link(changes)
    assert found.flaps == 1 and found.outages == (lost(2 * HOUR, 2 * HOUR + MINUTE),)
    assert found.down_s == 119  # both are time down


def test_what_the_window_or_the_log_cuts_short_is_no_flap() -> None:
    before = one_link([(-HOUR, False), (30 * SECOND, True)])
    assert before.flaps == 0 and before.outages == (lost(0, 30 * SECOND),)
    at_the_end = one_link([(0, True), (10 * HOUR - 30 * SECOND, False)])
    assert at_the_end.flaps == 0 and at_the_end.outages == (lost(10 * HOUR - 30 * SECOND, 10 * HOUR, back=False),)
    said = at_the_end.as_json(UTC)["outages"]
    assert said == [{"from": "1970-01-01T09:59:30+00:00", "to": None}]


def test_a_link_lost_twice_in_a_row_is_lost_once() -> None:
    found = one_link([(0, True), (HOUR, False), (HOUR + 30 * SECOND, False), (3 * HOUR, True)])
    assert found.outages == (lost(HOUR, 3 * HOUR),) and found.flaps == 0


def test_overs_count_by_their_start_and_airtime_within_the_window() -> None:
    rows = [
        (-2 * SECOND, 3 * SECOND, "dmr", "99920", None),
        (HOUR, HOUR + 5 * SECOND, "dmr", "99920", None),
        (HOUR + 2 * SECOND, HOUR + 6 * SECOND, "dmr", "99920", None),
    ]
    found = one_link([(-HOUR, True)], *rows)
    assert (found.overs, found.airtime_s) == (2, 9.0)
    assert (found.loss_pct, found.loss_high_share) == (None, None)


def test_loss_goes_by_seconds_and_only_by_overs_that_tell_it() -> None:
    rows = [
        (HOUR, HOUR + 30 * SECOND, "dmr", "99920", 1.0),
        (2 * HOUR, 2 * HOUR + 10 * SECOND, "dmr", "99920", 9.0),
        (3 * HOUR, 3 * HOUR + 60 * SECOND, "dmr", "99920", None),
        (4 * HOUR, 4 * HOUR + 10 * SECOND, "dmr", "99920", 5.0),  # not above 5 %
    ]
    found = one_link([(0, True)], *rows)
    assert found.loss_pct == pytest.approx((30 * 1 + 10 * 9 + 10 * 5) / 50) and found.loss_high_share == 0.2


def through(keys: dict[Key, list[Change]], over: Over) -> list[Key]:
    found = carried(list(keys), keys, overs(over)).through
    return [key for key, mine in zip(keys, found[:, 0], strict=True) if mine]


def test_an_over_comes_through_the_link_that_is_up_and_fits_it() -> None:
    up = {A: [(0, True)], B: [(0, True)]}
    assert through(up, (HOUR, 2 * HOUR, "dmr", "99920", None)) == [A]
    assert through(up, (HOUR, 2 * HOUR, "dmr", None, None)) == [A]  # nothing says otherwise
    assert through(up, (HOUR, 2 * HOUR, "dmr", "99901", None)) == []
    assert through({A: [(0, True), (HOUR, False)]}, (HOUR, 2 * HOUR, "dmr", "99920", None)) == []
    assert through({A: [(HOUR, True)]}, (HOUR, 2 * HOUR, "dmr", "99920", None)) == [A]


def test_an_over_that_fits_two_links_is_told_of_neither_and_so_counted() -> None:
    other: Key = ("ghyllnet", "dmr", "99920")
    up: dict[Key, list[Change]] = {A: [(0, True)], other: [(0, True)]}
    rows = [(HOUR, 2 * HOUR, "dmr", "99920", None), (2 * HOUR, 3 * HOUR, "dmr", "99901", None)]
    found = heard_links(up, overs(*rows), 9 * HOUR)
    assert (found.overs, found.not_told_apart) == (2, 2) and [one.overs for one in found.links] == [0, 0]
    assert found.apart == (NotToldApart("dmr", "99901", False, 1), NotToldApart("dmr", "99920", True, 1))


def test_a_link_that_names_less_of_another_takes_nothing_from_it() -> None:
    less: Key = ("moorland", None, None)
    up: dict[Key, list[Change]] = {less: [(0, True)], A: [(0, True)]}
    assert through(up, (HOUR, 2 * HOUR, "dmr", "99920", None)) == [A]
    assert through(up, (HOUR, 2 * HOUR, "dstar", None, None)) == [less]


def test_of_a_link_that_nobody_saw_nothing_is_known() -> None:
    found = one_link([(0, True)], blind=sp.spans([0], [10 * HOUR]))
    assert found == LinkFigures(A, 0.0)
    said = found.as_json(UTC)
    assert said.pop("weeks") == []
    assert {value for key, value in said.items() if key not in ("network", "mode", "target", "known_s")} == {None}


changed = st.lists(st.tuples(st.integers(-50, 600), st.booleans()), min_size=1, max_size=8)
modes, targets = st.sampled_from(["dmr", "dstar", None]), st.sampled_from(["1", "2", None])
rows = st.lists(st.tuples(st.integers(-20, 600), st.integers(1, 30), modes, targets), max_size=12)


@given(st.dictionaries(st.sampled_from([("n", "dmr", "1"), ("n", "dmr", "2"), ("m", "dstar", None)]), changed), rows)
def test_overs_of_links_agree_with_counting_one_by_one(
    told: dict[Key, list[Change]], heard: list[tuple[int, int, str | None, str | None]]
) -> None:
    changes = {key: sorted(mine, key=lambda change: change[0]) for key, mine in told.items()}
    heard = sorted(heard, key=lambda over: over[0])
    counts, alone = dict.fromkeys(changes, 0), 0
    for start, _, mode, target in heard:
        fitting = [
            key
            for key, mine in changes.items()
            if ([up for at, up in mine if at <= start] or [False])[-1]
            and all(said is None or of is None or said == of for said, of in zip((mode, target), key[1:], strict=True))
        ]
        if 0 <= start < 500:
            alone += len(fitting) != 1
            for key in fitting if len(fitting) == 1 else []:
                counts[key] += 1
    rows = [(start, start + long, mode, target, None) for start, long, mode, target in heard]
    found = heard_links(changes, overs(*rows), 500)
    assert found.not_told_apart == alone
    seen_up = {key for key, mine in changes.items() if any(up for _, up in mine)}
    assert {one.key: one.overs or 0 for one in found.links} == counts
    assert all(one.overs is None for one in found.links if one.key not in seen_up)


def test_of_a_link_that_was_never_seen_up_only_its_time_down_is_known() -> None:
    found = one_link([(HOUR, False)], (2 * HOUR, 3 * HOUR, "dmr", "99920", 1.0))
    assert (found.known_s, found.down_s) == (9 * 3600, 9 * 3600) and found.outages == (lost(HOUR, 10 * HOUR, False),)
    assert (found.availability, found.overs, found.airtime_s, found.loss_pct) == (None, None, None, None)
    assert found.quiet.silences is None and found.weeks[0].availability is None


@given(
    st.lists(st.tuples(st.integers(-50, 120), st.booleans()), min_size=1, max_size=12),
    st.lists(st.tuples(st.integers(0, 100), st.integers(1, 20)), max_size=4),
    st.integers(1, 120),
)
def test_links_agree_with_intervals_of_portion(
    events: list[tuple[int, bool]], blinds: list[tuple[int, int]], until: int
) -> None:
    # Reference library: portion 2.x, interval arithmetic on its own terms.
    events = sorted(events, key=lambda event: event[0])
    blind = sp.union(sp.spans([at for at, _ in blinds], [at + long for at, long in blinds]))
    known = portion.closedopen(0, min(100, until)) - portion.Interval(
        *(portion.closedopen(int(a), int(b)) for a, b in blind)
    )
    expected = {True: portion.empty(), False: portion.empty()}
    for (at, up), (to, _) in zip(events, [*events[1:], (100, True)], strict=True):
        if to > at:
            expected[up] |= portion.closedopen(at, to) & known
    up, down = (sum(part.upper - part.lower for part in expected[state] if not part.empty) for state in (True, False))
    (found,) = heard_links({A: events}, overs(), 100, blind, until).links
    assert found.known_s == (up + down) / SECOND and (found.down_s or 0) == down / SECOND
    if up + down:
        assert found.availability == (up / (up + down) if any(state for _, state in events) else None)


@given(st.integers(1_780_000_000, 1_800_000_000), st.integers(1, 40 * 86_400))
def test_weeks_are_those_of_pandas_and_cover_the_window(start_s: int, long_s: int) -> None:
    # Reference library: pandas, its weekly periods ending on Sundays, around both clock changes of Europe/London.
    zone, start, end = ZoneInfo("Europe/London"), start_s * SECOND, (start_s + long_s) * SECOND
    found = local_weeks(start, end, zone)
    assert found[0][0] == start and found[-1][1] == end
    assert all(after[0] == before[1] for before, after in pairwise(found))
    for since, to in found:
        first, last = (pd.Timestamp(at, unit="us", tz=zone) for at in (since, to - 1))
        assert first.tz_localize(None).to_period("W-SUN") == last.tz_localize(None).to_period("W-SUN")
        year, week, _ = first.isocalendar()
        assert week_name(since, zone) == f"{year}-W{week:02d}"


@given(changed, rows)
def test_weeks_add_up_to_the_window(told: list[Change], heard: list[tuple[int, int, str | None, str | None]]) -> None:
    stretch = 400 * HOUR  # two weeks and more
    changes = sorted(((at * HOUR, up) for at, up in told), key=lambda change: change[0])
    told_hours = ((at * HOUR, (at + long) * HOUR, mode, target, None) for at, long, mode, target in heard)
    hours = sorted(told_hours, key=lambda over: over[0])
    (found,) = heard_links({(None, None, None): changes}, overs(*hours), stretch).links
    if not found.known_s:
        return
    assert sum(week.known_s for week in found.weeks) == found.known_s
    assert sum(week.down_s or 0.0 for week in found.weeks) == found.down_s
    assert sum(week.outages or 0 for week in found.weeks) == len(found.outages or ())
    assert sum(week.flaps or 0 for week in found.weeks) == found.flaps
    assert sum(week.overs or 0 for week in found.weeks) == (found.overs or 0)


def test_a_silence_is_longer_than_three_times_the_gap_that_came_once_a_week() -> None:
    # 28 days, an over of a minute every 2 h but for four gaps of 9 h (the fifth longest is one of 2 h less a minute)
    # and a last one of up to 5 h: beyond three times 1 h 59 min stand only those of 9 h.
    day, start, at = 24 * HOUR, [], 0
    while at < 28 * day:
        start.append(at)
        at += 9 * HOUR if len(start) in (20, 100, 180, 260) else 2 * HOUR
    begun = np.array([one for one in start if one < 28 * day - 3 * HOUR], dtype=np.int64)
    ended = begun + MINUTE
    found = silences(sp.spans([0], [28 * day]), begun, ended, (0, 28 * day))
    assert found.usual_gap_s == 2 * 3600 - 60
    assert found.silences is not None and [one.seconds for one in found.silences] == [9 * 3600 - 60] * 4
    assert found.silences[0] == Silence(int(ended[19]), int(begun[20]), 9 * 3600 - 60)
    late = silences(sp.spans([0], [28 * day]), begun, ended, (20 * day, 28 * day)).silences
    assert late is not None and late == found.silences[-len(late) :] and 0 < len(late) < 4


def test_a_silence_that_nothing_ended_goes_on_and_time_down_is_none_of_it() -> None:
    day = 24 * HOUR
    begun = np.arange(0, 27 * day, HOUR, dtype=np.int64)
    up = sp.spans([0, 27 * day + 6 * HOUR], [27 * day + HOUR, 28 * day])  # down for 5 h of the last day
    found = silences(up, begun, begun + MINUTE, (27 * day, 28 * day)).silences
    assert found == (Silence(int(begun[-1]) + MINUTE, 28 * day, 20 * 3600 - 60, over=False),)
    assert found[0].as_json(UTC)["to"] is None


def test_a_link_that_is_known_for_less_than_two_weeks_or_seldom_used_has_no_silence_to_judge() -> None:
    day = 24 * HOUR
    begun = np.arange(0, 13 * day, HOUR, dtype=np.int64)
    assert silences(sp.spans([0], [13 * day]), begun, begun + MINUTE, (0, 13 * day)).silences is None
    monthly = np.array([day, 29 * day, 57 * day], dtype=np.int64)
    assert silences(sp.spans([0], [60 * day]), monthly, monthly + MINUTE, (0, 60 * day)).silences is None
    assert silences(sp.NONE, begun, begun + MINUTE, (0, day)).silences is None


@given(
    st.lists(st.tuples(st.integers(0, 89), st.integers(1, 6)), max_size=60),
    st.lists(st.tuples(st.integers(0, 89), st.integers(1, 8)), max_size=5),
    st.integers(0, 80),
)
def test_silences_agree_with_counting_quarters_of_days(
    heard: list[tuple[int, int]], lost: list[tuple[int, int]], since: int
) -> None:
    # The twin walks through 90 steps of 6 h, one after the other.
    step, steps = 6 * HOUR, 90
    down = {at + n for at, long in lost for n in range(long)}
    busy = {at + n for at, long in heard for n in range(long)}
    up = [at for at in range(steps) if at not in down]
    gaps: list[tuple[int, int, int]] = []  # first step, step after the last one, steps up
    first, count = (up[0], 0) if up else (0, 0)
    last = up[-1] + 1 if up else 0
    for at in range(first, last):
        if at in busy:
            if at == up[0] or at - 1 not in busy:
                gaps.append((first, at, count))
            first, count = at + 1, 0
        elif at in up:
            count += 1
    gaps.append((first, last, count))
    between = sorted(count for _, _, count in gaps[1:-1])
    weeks = max(1, round(len(up) / 28))
    spans = sp.union(sp.spans([at * step for at in up], [(at + 1) * step for at in up]))
    began = np.array(sorted(at for at, _ in heard), dtype=np.int64) * step
    ended = np.array([(at + long) * step for at, long in sorted(heard, key=lambda one: one[0])], dtype=np.int64)
    found = silences(spans, began, ended, (since * step, steps * step))
    if len(up) < 56 or sum(count > 0 for count in between) < len(up) / 4:
        assert found.silences is None
        return
    usual = between[len(between) - 1 - weeks]
    assert found.usual_gap_s == usual * 6 * 3600
    assert [(one.start_us // step, one.end_us // step) for one in found.silences or ()] == [
        (begun, after) for begun, after, count in gaps if count > 3 * usual and after > since
    ]


def test_blind_time_does_not_end_an_outage_and_is_not_in_its_length() -> None:
    blind = sp.spans([4 * HOUR, 6 * HOUR], [5 * HOUR, 7 * HOUR])
    going_on = one_link([(0, True), (3 * HOUR, False)], blind=blind)
    assert going_on.outages == (Outage(3 * HOUR, 10 * HOUR, 5 * HOUR, back=False),)
    assert [outage["to"] for outage in going_on.as_json(UTC)["outages"]] == [None]
    ended = one_link([(0, True), (3 * HOUR, False), (8 * HOUR, True)], blind=blind)
    assert ended.outages == (Outage(3 * HOUR, 8 * HOUR, 3 * HOUR),)
    assert sum(week.outages or 0 for week in ended.weeks) == 1


@given(
    st.lists(
        st.tuples(st.integers(-90, 400), st.booleans()), min_size=1, max_size=14, unique_by=lambda event: event[0]
    ),
    st.lists(st.tuples(st.integers(0, 300), st.integers(1, 60)), max_size=3),
)
def test_outages_and_flaps_agree_with_walking_through_the_log_second_by_second(
    events: list[tuple[int, bool]], blinds: list[tuple[int, int]]
) -> None:
    # The twin asks of each second whether the link was down and whether that was seen; the window is 300 s.
    events = sorted(events, key=lambda event: event[0])
    changes = [(at * SECOND, up) for at, up in events if at < 300]
    if not changes:
        return
    blind = {at + n for at, long in blinds for n in range(long)}
    state = [([up for at, up in events if at <= second] or [None])[-1] for second in range(-90, 300)]
    runs: list[list[int]] = []  # of seconds down, whether seen or not
    for second, up in zip(range(-90, 300), state, strict=True):
        if up is False and runs and runs[-1][-1] == second - 1:
            runs[-1].append(second)
        elif up is False:
            runs.append([second])
    outages: list[tuple[int, int, int, bool]] = []
    flaps = 0
    for run in runs:
        seen = [second for second in run if second >= 0 and second not in blind]
        back = run[-1] < 299
        if seen and back and len(run) < 60:
            flaps += run[0] >= 0
            continue
        if seen:
            outages.append((seen[0], seen[-1] + 1, len(seen), back))
    spans = sp.union(sp.spans([at * SECOND for at, _ in blinds], [(at + long) * SECOND for at, long in blinds]))
    (found,) = heard_links({A: changes}, overs(), 300 * SECOND, spans).links
    if found.known_s:
        assert [
            (one.start_us // SECOND, one.end_us // SECOND, one.known_us // SECOND, one.back)
            for one in found.outages or ()
        ] == outages
        assert found.flaps == flaps
    else:
        assert not outages and not flaps
