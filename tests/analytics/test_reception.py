"""Reception against its definition: simulated years of which the truth is known, reference libraries, and small worlds
by hand (definitions.md, Reception).
"""

import datetime as dt
import json
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from server.analytics.figure_types import Stretch
from server.analytics.polish import Heard, draws, interval, medians, overs_of, polished
from server.analytics.reception import AirOvers, local_hours_of, reception, regulars
from server.analytics.reception_changes import Kind
from shared.zones import DAY, HOUR, midnight
from tests.analytics.reception_sim import FIRST, Hill, dates_of, heard_on, simulate

SEEDS = range(6)
QUARTER = 120  # days: a short year


def day_of(date: dt.date) -> int:
    return (date - FIRST).days


@pytest.mark.parametrize("db", [-6.0, 6.0])
def test_six_decibels_are_found_within_two_days_and_by_their_size(db: float) -> None:
    for seed in SEEDS:
        at = 40 + 7 * seed
        found = simulate(Hill(days=QUARTER, faults=((at, db),), seed=seed, radios=1, lifts=1))
        (change,) = found.changes
        assert abs(day_of(change.day) - at) <= 2 and change.earliest <= change.day <= change.latest
        assert change.level is not None and abs(change.level.size - db) <= 1.5
        assert change.kind is (Kind.DEAF if db < 0 else Kind.BETTER)
        assert change.modes.keys() == {"dmr", "dstar"}
        assert all(abs(size - db) <= 2 for size in change.modes.values())


def test_quiet_times_have_no_change_though_seasons_drift_radios_are_bought_and_the_weather_lifts() -> None:
    found = [simulate(Hill(days=QUARTER, seed=100 + seed, radios=2, lifts=2, drift_db=1.5)) for seed in SEEDS]
    assert [one.changes for one in found] == [()] * len(found)


def test_a_fault_and_its_repair_are_two_changes() -> None:
    # Without lifts: one as large as the repair, on the days before it, can't be told from it.
    found = simulate(Hill(days=QUARTER, faults=((50, -8.0), (80, 8.0)), seed=4, lifts=0))
    assert [one.kind for one in found.changes] == [Kind.DEAF, Kind.BETTER]
    assert [abs(day_of(one.day) - at) <= 2 for one, at in zip(found.changes, (50, 80), strict=True)] == [True, True]


def test_errors_that_rise_while_levels_stay_are_noise() -> None:
    (change,) = simulate(Hill(days=QUARTER, noises=((60, 1.5),), seed=5)).changes
    assert change.kind is Kind.NOISE and abs(day_of(change.day) - 60) <= 2
    assert change.errors is not None and change.errors.size == pytest.approx(1.5, abs=0.3)


def test_level_and_errors_that_move_on_one_day_are_one_change() -> None:
    (change,) = simulate(Hill(days=QUARTER, faults=((60, -6.0),), noises=((60, 1.5),), seed=6)).changes
    assert change.kind is Kind.DEAF and change.errors is not None and change.errors.size > 1


NIGHT = (22, 23, 0, 1, 2, 3, 4)


@pytest.mark.parametrize("seed", range(4))
def test_a_source_of_noise_at_night_is_told_with_its_hours(seed: int) -> None:
    hill = Hill(stations=20, days=QUARTER, sources=((60, 1.5, NIGHT),), night=0.3, radios=1, lifts=1, seed=seed)
    (change,) = simulate(hill).changes
    assert change.kind is Kind.NOISE and change.hours == NIGHT
    assert abs(day_of(change.day) - 60) <= 3 and change.earliest <= change.day <= change.latest
    assert change.errors is not None and change.errors.size == pytest.approx(1.5, abs=0.3)
    assert change.as_json()["hours"] == list(NIGHT) and change.as_json()["kind"] == "noise"


def test_a_source_of_noise_that_stops_again_is_two_changes_in_the_same_hours() -> None:
    sources = ((50, 1.5, NIGHT), (80, -1.5, NIGHT))
    found = simulate(Hill(stations=20, days=QUARTER, sources=sources, night=0.3, radios=1, lifts=1, seed=3)).changes
    assert [(one.kind, one.hours) for one in found] == [(Kind.NOISE, NIGHT), (Kind.BETTER, NIGHT)]


def test_what_holds_at_all_hours_has_none_though_people_talk_by_night_too() -> None:
    for seed in SEEDS:
        hill = Hill(stations=20, days=QUARTER, faults=((60, -4.0),), noises=((60, 1.0),), night=0.3, seed=seed)
        (change,) = simulate(hill).changes
        assert change.hours is None and change.kind is Kind.DEAF


def test_quiet_nights_have_no_change_of_some_hours() -> None:
    found = [simulate(Hill(stations=20, days=QUARTER, seed=200 + seed, night=0.3)).changes for seed in SEEDS]
    assert found == [()] * len(found)


def test_local_hours_are_those_of_the_clock_also_on_the_day_of_its_change() -> None:
    zone = ZoneInfo("Europe/London")  # back on 2026-10-25 at 01:00 UTC (IANA tz database)
    edges = np.array([midnight(dt.date(2026, 10, day), zone) for day in (24, 25, 26)], dtype=np.int64)
    at = edges[1] + np.array([-HOUR, 0, HOUR, 2 * HOUR, 3 * HOUR, 24 * HOUR])
    assert local_hours_of(at, edges, zone).tolist() == [23, 0, 1, 1, 2, 23]


def test_the_first_four_weeks_have_their_middle_at_nothing_and_intervals_hold_the_shift() -> None:
    found = simulate(Hill(days=QUARTER, seed=7))
    first = [one.shift_db for one in found.days[:28] if one.shift_db is not None]
    assert np.median(first) == pytest.approx(0, abs=1e-9)
    for one in found.days:
        if one.shift_db is not None and one.low_db is not None and one.high_db is not None:
            assert one.low_db - 1e-9 <= one.shift_db <= one.high_db + 1e-9


def test_with_fewer_than_three_regulars_nothing_is_said() -> None:
    found = simulate(Hill(stations=2, days=60, faults=((30, -20.0),), radios=0))
    assert found.regulars == 2 and found.changes == ()
    assert {(one.shift_db, one.low_db, one.errors_pct) for one in found.days} == {(None, None, None)}


def test_without_any_over_everything_is_unknown_or_none() -> None:
    nothing = np.empty(0, dtype=np.int64)
    heard = Heard(nothing, nothing, nothing, np.empty(0), np.empty(0))
    window = Stretch(0, 3 * DAY, ZoneInfo("UTC"), 0.0)
    dates = [FIRST + dt.timedelta(days=n) for n in range(3)]
    found = reception(window, heard, AirOvers(0, 0), dates, np.arange(4) * DAY)
    assert (found.regulars, found.readings, found.changes, found.levels) == (0, 0, (), False)
    assert [one.shift_db for one in found.days] == [None] * 3 and [one.stations for one in found.days] == [0] * 3


def test_nothing_in_the_json_is_by_station_and_no_number_is_nan() -> None:
    said = simulate(Hill(days=60, seed=8)).as_json()
    json.dumps(said, allow_nan=False)
    assert said.keys() == {"window", "regulars", "readings", "days", "changes"}
    assert said["days"][0].keys() == {"day", "shift_db", "low_db", "high_db", "errors_pct", "stations"}


def test_a_reading_is_the_median_of_a_stations_overs_in_a_mode_on_a_day() -> None:
    start = np.array([HOUR, 2 * HOUR, 3 * HOUR, 4 * HOUR, DAY + HOUR], dtype=np.int64)
    station, mode = np.array([7, 7, 7, 7, 7]), np.array([1, 1, 1, 2, 1])
    rssi = np.array([-90.0, -80.0, np.nan, -70.0, -60.0])
    ber = np.array([1.0, 2.0, 9.0, np.nan, np.nan])
    found = overs_of(Heard(start, mode, station, rssi, ber), np.arange(3) * DAY, start % DAY // HOUR).readings()
    assert found.mode.tolist() == [1, 2] and found.station.tolist() == [7, 7]
    assert np.array_equal(found.level, [[-85.0, -60.0], [-70.0, np.nan]], equal_nan=True)
    assert np.array_equal(found.errors, [[2.0, np.nan], [np.nan, np.nan]], equal_nan=True)


def test_ten_days_of_any_thirteen_weeks_make_a_regular() -> None:
    def pair(days: list[int]) -> bool:
        start = np.array(days, dtype=np.int64) * DAY + HOUR
        code = np.zeros(len(days), dtype=np.int64)
        heard = Heard(start, code, code, np.full(len(days), -90.0), np.full(len(days), np.nan))
        return bool(regulars(overs_of(heard, np.arange(201) * DAY, code).readings().heard())[0])

    assert pair(list(range(10))) and not pair(list(range(9)))
    assert pair([n * 10 for n in range(10)]) and not pair([n * 11 for n in range(10)])  # 91 and 100 days


tables = arrays.arrays(
    np.float64, st.tuples(st.integers(1, 6), st.integers(1, 6)), elements=st.one_of(st.just(np.nan), st.integers(-9, 9))
)


@given(tables, st.integers(0, 1))
def test_medians_without_the_unknown_are_numpys(table: np.ndarray, axis: int) -> None:
    # Reference library: numpy.nanmedian, where it has anything to go by.
    told = ~np.isnan(table).all(axis=axis)
    expected = np.nanmedian(np.compress(told, table, axis=1 - axis), axis=axis)
    found = medians(table, axis)
    assert np.array_equal(found[told], expected) and np.isnan(found[~told]).all()


def test_the_polish_takes_rows_and_days_apart() -> None:
    rng = np.random.default_rng(1)
    rows, days = rng.uniform(-110, -70, 9), rng.standard_normal(40)
    table = rows[:, None] + days + np.where(rng.random((9, 40)) < 0.3, np.nan, 0.0)
    table[0, 5] += 40  # what one row does alone moves nothing
    usual, common = polished(table)
    assert np.allclose(common - common[0], days - days[0], atol=1e-2)
    assert np.allclose(usual - usual[0], rows - rows[0], atol=1e-2)


def test_the_interval_over_stations_is_scipys_where_each_has_one_value() -> None:
    # Reference library: scipy.stats.bootstrap, percentile method, of the median.
    scipy = pytest.importorskip("scipy.stats")
    values = np.random.default_rng(2).standard_normal(201)
    found = interval(values, draws(np.arange(201)))
    theirs = scipy.bootstrap((values,), np.median, n_resamples=9999, method="percentile", rng=1).confidence_interval
    assert found == pytest.approx((theirs.low, theirs.high), abs=0.03)


@given(st.lists(st.tuples(st.integers(-9, 9), st.integers(1, 3)), min_size=2, max_size=7))
def test_the_interval_is_that_of_the_medians_of_what_was_drawn(rows: list[tuple[int, int]]) -> None:
    values, drawn = np.array([value for value, _ in rows], dtype=np.float64), draws(np.array([of for _, of in rows]))
    medians_drawn = [np.median(np.repeat(values, row)) for row in drawn if row.sum()]
    assert interval(values, drawn) == pytest.approx(tuple(np.quantile(medians_drawn, [0.025, 0.975])))


def test_a_stations_modes_are_drawn_together() -> None:
    drawn = draws(np.array([4, 4, 9, 9, 9]))
    assert (drawn[:, 0] == drawn[:, 1]).all() and (drawn[:, 2] == drawn[:, 4]).all()
    assert (drawn[:, 0] + drawn[:, 2] == 2).all()


@pytest.mark.parametrize("seed", range(3))
def test_the_order_of_rows_and_what_was_drawn_before_move_no_figure(seed: int) -> None:
    hill = Hill(days=QUARTER, faults=((60, -6.0),))
    heard, edges = heard_on(hill)
    window = Stretch(0, hill.days * DAY, ZoneInfo("UTC"), 0.0)
    overs = AirOvers(len(heard.start), len(heard.start))
    mixed = heard.where(np.random.default_rng(seed).permutation(len(heard.start)))
    first = reception(window, heard, overs, dates_of(hill), edges)
    simulate(Hill(days=QUARTER - 1, stations=7))
    assert first.changes and reception(window, mixed, overs, dates_of(hill), edges) == first
