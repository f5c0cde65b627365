"""Erlang B, traffic and the busy hour against published tables, identities and pandas' calendar."""

import datetime as dt
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.stats import poisson

from server.analytics import airtime
from server.analytics.traffic import BusyHour, busy_hour, erlang, erlang_b
from shared import spans as sp
from shared.zones import DAY, HOUR, SECOND, local_days, midnight, to_us
from tests.analytics.analytics_brute import busy_hour as brute_busy_hour
from tests.analytics.analytics_brute import covered
from tests.analytics.analytics_world import LONDON

MINUTE = 60 * SECOND


def load(servers: int, blocking: float) -> float:
    """The load at which so many servers block that share of calls."""
    return float(brentq(lambda erlangs: erlang_b(servers, erlangs) - blocking, 0, 500, xtol=1e-12))


# Erlang B table of a Lucent course: seen in a stored copy, and worked out again (within 0.001).
@pytest.mark.parametrize(("servers", "erlangs"), [
    (3, 0.602), (5, 1.657), (7, 2.935), (9, 4.345), (11, 5.842), (13, 7.402), (15, 9.010), (17, 10.656), (19, 12.333),
    (21, 14.036), (23, 15.761), (25, 17.505),
])  # fmt: skip
def test_erlang_b_gives_the_published_loads_at_two_percent(servers: int, erlangs: float) -> None:
    assert load(servers, 0.02) == pytest.approx(erlangs, abs=0.001)


# Published Erlang B tables: 15 servers seen in a calculator's manual, the others from memory; all worked out again.
@pytest.mark.parametrize(("servers", "erlangs", "last_place"), [
    (1, 0.0101, 1e-4), (2, 0.1526, 1e-4), (5, 1.361, 1e-3), (10, 4.461, 1e-3), (15, 8.108, 1e-3), (20, 12.03, 1e-2),
    (50, 37.90, 1e-2), (100, 84.06, 1e-2),
])  # fmt: skip
def test_erlang_b_gives_the_published_loads_at_one_percent(servers: int, erlangs: float, last_place: float) -> None:
    assert load(servers, 0.01) == pytest.approx(erlangs, abs=last_place)


# Worked by hand from the recurrence.
@pytest.mark.parametrize(
    ("servers", "erlangs", "blocking"),
    [
        (1, 1, 1 / 2),
        (2, 1, 1 / 5),
        (2, 2, 2 / 5),
        (4, 2, 0.095238),
        (5, 3, 0.110054),
        (10, 5, 0.018385),
        (0, 3, 1),
        (2, 0, 0),
    ],
)
def test_erlang_b_gives_the_exact_values(servers: int, erlangs: float, blocking: float) -> None:
    assert erlang_b(servers, erlangs) == pytest.approx(blocking, abs=5e-7)


@given(st.integers(1, 60), st.floats(0.01, 80))
def test_erlang_b_is_the_last_state_of_a_truncated_poisson_distribution(servers: int, erlangs: float) -> None:
    assert erlang_b(servers, erlangs) == pytest.approx(
        poisson.pmf(servers, erlangs) / poisson.cdf(servers, erlangs), rel=1e-6
    )


@pytest.mark.parametrize(("servers", "erlangs"), [(-1, 1.0), (2, -0.1), (2, float("inf")), (2, float("nan"))])
def test_erlang_b_refuses_what_is_no_load(servers: int, erlangs: float) -> None:
    with pytest.raises(ValueError, match="0 or more"):
        erlang_b(servers, erlangs)


def test_traffic_is_mean_duration_times_calls_an_hour_over_3600() -> None:
    """Wilkinson, Bell System Technical Journal, October 1941, seen in the abstract: 30 calls of 40 s in an hour are 1/3
    erlang.
    """
    calls = sp.spans(*(np.arange(30) * 100 * SECOND + after * SECOND for after in (0, 40)))
    assert erlang([calls], (0, HOUR), HOUR) == pytest.approx(40 * 30 / 3600)


def test_one_erlang_is_continuous_occupancy() -> None:
    """ATIS glossary, traffic intensity: seen."""
    always = sp.spans([0], [DAY])
    assert erlang([always], (HOUR, 2 * HOUR), HOUR) == 1.0 and erlang([always, always], (HOUR, 2 * HOUR), HOUR) == 2.0


def test_sampled_occupancy_lies_within_ten_percent_in_ninety_five_of_a_hundred_trials() -> None:
    """Occupied samples over all samples approach occupied time over observed time (Report ITU-R SM.2256, SM.1880:
    contents seen). n = (1.96 / 0.1)² (1 - p) / p independent samples give ± 10 % at 95 %: binomial, worked.
    """
    luck = np.random.default_rng(1880)
    start = np.sort(luck.integers(0, DAY, 400))
    busy = sp.union(sp.spans(start, start + luck.integers(SECOND, 90 * SECOND, 400)))
    truth = airtime.occupancy(busy, (0, DAY), DAY)
    assert truth is not None and 0.1 < truth < 0.3
    samples = round((1.96 / 0.1) ** 2 * (1 - truth) / truth)
    sampled = np.array([sp.covers(busy, luck.integers(0, DAY, samples)).mean() for _ in range(1000)])
    assert 0.93 < (np.abs(sampled / truth - 1) <= 0.1).mean() < 0.97


# Local dates around which the clock does nothing, goes forward, goes back; the windows may begin at any quarter before.
FIRST_DAYS = [
    dt.date(2026, 11, 16),
    dt.date(2026, 3, 28),
    dt.date(2026, 3, 29),
    dt.date(2026, 10, 24),
    dt.date(2026, 10, 25),
]


@settings(max_examples=20, deadline=None)
@given(
    st.sampled_from(FIRST_DAYS), st.integers(1, 3),
    st.lists(st.tuples(st.integers(0, 2), st.integers(0, 4500), st.integers(1, 90)), min_size=1, max_size=25),
    st.lists(st.tuples(st.integers(0, 4500), st.integers(0, 200)), max_size=2),
)  # fmt: skip
def test_the_busy_hour_agrees_with_pandas_calendar_over_both_clock_changes(
    first: dt.date, days: int, overs: list[tuple[int, int, int]], unseen: list[tuple[int, int]]
) -> None:
    after = first + dt.timedelta(days=days)
    base = dt.datetime(first.year, first.month, first.day, tzinfo=dt.UTC) - dt.timedelta(hours=2)
    zero = to_us(base)
    by_stream = [[(start, start + length) for of, start, length in overs if of == stream] for stream in range(3)]
    streams = [sp.union(np.array(some, dtype=np.int64).reshape(-1, 2) * MINUTE + zero) for some in by_stream]
    gone = [(start, start + length) for start, length in unseen]
    blind = sp.union(np.array(gone, dtype=np.int64).reshape(-1, 2) * MINUTE + zero)
    found = busy_hour(streams, (midnight(first, LONDON), midnight(after, LONDON)), LONDON, blind)
    expected = brute_busy_hour([covered(some) for some in by_stream], base, (first, after), covered(gone))
    if expected is None:
        assert (found.start, found.erlang, found.days) == (None, None, None)
        return
    assert (found.start, found.days) == (expected[0], expected[2])
    assert found.erlang == pytest.approx(expected[1])


def daytime_traffic(seed: int) -> list[sp.Spans]:
    luck = np.random.default_rng(seed)
    start = (
        midnight(dt.date(2026, 11, 16), LONDON)
        + luck.integers(0, 7, 300) * DAY
        + luck.integers(7 * HOUR, 22 * HOUR, 300)
    )
    return [sp.union(sp.spans(part, part + 90 * SECOND)) for part in np.array_split(start, 2)]


@pytest.mark.parametrize("seed", range(5))
def test_time_consistent_busy_hour_traffic_is_at_most_the_mean_of_the_daily_peaks(seed: int) -> None:
    """ITU-T E.500, from memory; follows from a maximum of means being at most the mean of maxima."""
    streams = daytime_traffic(seed)
    week = (midnight(dt.date(2026, 11, 16), LONDON), midnight(dt.date(2026, 11, 23), LONDON))
    peaks = [busy_hour(streams, (first, after), LONDON).erlang or 0 for _, first, after in local_days(*week, LONDON)]
    consistent = busy_hour(streams, week, LONDON).erlang
    assert consistent is not None and 0 < consistent < np.mean(peaks)


def test_the_busy_hour_is_the_earliest_of_equals() -> None:
    day = midnight(dt.date(2026, 11, 16), LONDON)
    hours = sp.spans([day + 9 * HOUR, day + 19 * HOUR], [day + 10 * HOUR, day + 20 * HOUR])
    assert busy_hour([hours], (day, day + DAY), LONDON).start == "09:00"


def test_without_a_whole_local_day_there_is_no_busy_hour() -> None:
    day = midnight(dt.date(2026, 11, 16), LONDON)
    found = busy_hour([sp.spans([day], [day + DAY])], (day + 1, day + DAY), LONDON)
    assert (found.start, found.erlang, found.days) == (None, None, None)


def test_days_of_which_nothing_was_seen_give_no_busy_hour() -> None:
    day = midnight(dt.date(2026, 11, 16), LONDON)
    found = busy_hour([], (day, day + DAY), LONDON, sp.spans([0], [day + 2 * DAY]))
    assert (found.start, found.erlang, found.days) == (None, None, None)


def test_a_quarter_that_the_clock_skips_leaves_that_day_out_and_one_that_it_repeats_counts_at_its_first() -> None:
    """Europe/London, IANA tz database: forward 2026-03-29 01:00Z, back 2026-10-25 01:00Z (worked)."""
    spring, before = midnight(dt.date(2026, 3, 29), LONDON), midnight(dt.date(2026, 3, 28), LONDON)
    early = sp.spans([before + HOUR], [before + 2 * HOUR])  # 01:00 to 02:00 on the 28th only
    found = busy_hour([early], (before, spring + 23 * HOUR), LONDON)
    assert (found.start, found.erlang, found.days) == ("01:00", 1.0, 1)  # a mean over one day, not two
    autumn = midnight(dt.date(2026, 10, 25), LONDON)
    second = sp.spans([autumn + 2 * HOUR], [autumn + 3 * HOUR])  # 01:00 to 02:00 winter time, the second time round
    found = busy_hour([second], (autumn, autumn + 25 * HOUR), LONDON)
    assert (found.start, found.erlang) == (
        "01:45",
        0.75,
    )  # from the first 01:45; the second 01:00 does not count as 01:00


def test_a_quarter_that_fewer_than_half_of_the_seen_days_have_is_no_candidate() -> None:
    """Found as a busy hour of a single minute that was seen: three days, of which one alone saw its 03:00, all of it on
    the air.
    """
    days = [midnight(dt.date(2026, 11, 16 + n), LONDON) for n in range(4)]
    night = sp.spans([days[0] + 3 * HOUR], [days[0] + 4 * HOUR])
    noon = sp.spans([day + 12 * HOUR for day in days[:3]], [day + 12 * HOUR + HOUR // 10 for day in days[:3]])
    blind = sp.spans([days[1], days[2]], [days[1] + 10 * HOUR, days[2] + 10 * HOUR])
    found = busy_hour([sp.union(night, noon)], (days[0], days[3]), LONDON, blind)
    assert (found.start, found.days) == ("11:15", 3) and found.erlang == pytest.approx(0.1)


def test_a_date_that_a_zone_skips_is_no_day() -> None:
    """Pacific/Apia went from 29 to 31 December 2011 (IANA tz database; worked)."""
    apia = ZoneInfo("Pacific/Apia")
    window = midnight(dt.date(2011, 12, 29), apia), midnight(dt.date(2012, 1, 1), apia)
    assert [day.day for day, _, _ in local_days(*window, apia)] == [29, 31]
    assert busy_hour([sp.spans([window[0]], [window[1]])], window, apia) == BusyHour("00:00", 1.0, 2)


def test_the_windows_are_those_of_the_clock() -> None:
    lengths = [after - first for _, first, after in local_days(
        midnight(dt.date(2026, 3, 28), LONDON), midnight(dt.date(2026, 3, 31), LONDON), LONDON)]  # fmt: skip
    assert lengths == [24 * HOUR, 23 * HOUR, 24 * HOUR] and all(one != other for one, other in pairwise(lengths))
