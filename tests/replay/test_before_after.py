"""The comparison before and after, on changes whose true step is known."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.regression.linear_model import OLS

from server.analytics.before_after import bounds, compare, weeks_around
from shared.zones import DAY, from_us, instant
from tests.replay.replay_changes import changes_held, days_around, drawn_change
from tests.replay.replay_world import ZONE


@pytest.mark.parametrize("step", [-8.0, 7.0])
def test_the_sign_is_right_and_the_interval_holds_the_step_in_nine_changes_of_ten(step: float) -> None:
    rng = np.random.default_rng(11)
    found = [drawn_change(rng, step) for _ in range(100)]
    assert sum(one.step * step > 0 for one in found) >= 90
    assert sum(one.interval.low <= step <= one.interval.high for one in found) >= 90


def test_no_change_is_said_to_be_one_in_at_most_a_tenth_of_comparisons() -> None:
    rng = np.random.default_rng(12)
    found = [drawn_change(rng, 0.0) for _ in range(200)]
    assert sum(one.interval.low > 0 or one.interval.high < 0 for one in found) <= 20


def test_the_step_holds_on_a_simulated_repeater_whose_hold_is_changed() -> None:
    # One change of a discrete-event simulation; tests/benchmarks/bench_replay.py does 100.
    right, held, width = changes_held(1)
    assert right == held == 1 and 0 < width < 80


def test_a_mere_trend_is_no_step() -> None:
    days = days_around(4)
    found = compare(days, 30 + 0.5 * days.astype(float), np.ones(len(days), dtype=bool))
    assert found is not None and abs(found.step) < 1e-9 and found.after - found.before > 10


def test_weekdays_are_held_against_each_other_when_days_are_missing() -> None:
    days = days_around(4)
    counts = np.where(np.mod(days, 7) >= 5, 50.0, 10.0)
    seen = ~((np.mod(days, 7) >= 5) & (days > 0) & (days < 15))  # two weekends after the change are blind
    found = compare(days, counts, seen)
    assert found is not None and abs(found.step) < 1e-9 and found.after < found.before - 4


def test_the_step_is_that_of_least_squares_in_scipy() -> None:
    rng = np.random.default_rng(2)
    days = days_around(3)
    counts = rng.poisson(20, size=len(days)).astype(float)
    found = compare(days, counts, np.ones(len(days), dtype=bool))
    from scipy.optimize import lsq_linear

    columns = np.column_stack([np.mod(days, 7)[:, None] == np.arange(7), days / 7, days > 0]).astype(float)
    assert found is not None and found.step == pytest.approx(lsq_linear(columns, counts).x[-1], abs=1e-6)
    assert stats.t.ppf(0.975, 10) > 2  # the interval is no narrower than Student's t on the plain errors
    left = counts - columns @ lsq_linear(columns, counts).x
    plain = np.sqrt(np.linalg.inv(columns.T @ columns)[-1, -1] * left @ left / (len(days) - 9)) * stats.t.ppf(
        0.975, len(days) - 9
    )
    assert found.interval.high - found.step >= plain * 0.999


@pytest.mark.parametrize("seed", range(8))
def test_the_interval_is_that_of_statsmodels_plain_or_clustered_by_week_whichever_is_wider(seed: int) -> None:
    # statsmodels' OLS, plain and with cov_type="cluster" and its small-sample factor; Student's t from scipy. The
    # small-sample factor and its heteroscedastic forms go back to J. G. MacKinnon and H. White, Journal of Econometrics
    # 29, 1985 (from memory).
    rng, days = np.random.default_rng(seed), days_around(4)
    weekly = np.repeat(
        rng.normal(0, 6 if seed % 2 else 0.1, size=8), 7
    )  # days of a week go together in every other case
    counts = 40 + 0.2 * days + weekly + rng.normal(0, 3, size=len(days))
    found = compare(days, counts, np.ones(len(days), dtype=bool))
    columns = np.column_stack([np.mod(days, 7)[:, None] == np.arange(7), days / 7, days > 0]).astype(float)
    week = np.where(days > 0, (days - 1) // 7, days // 7)
    model = OLS(counts, columns)
    plain, clustered = (
        model.fit(),
        model.fit(cov_type="cluster", cov_kwds={"groups": week - week.min(), "use_correction": True}),
    )
    halves = (
        plain.bse[-1] * stats.t.ppf(0.975, len(days) - 9),
        clustered.bse[-1] * stats.t.ppf(0.975, len(np.unique(week)) - 3),
    )
    assert found is not None and found.step == pytest.approx(plain.params[-1])
    assert found.interval.high - found.step == pytest.approx(max(halves), rel=1e-3)
    assert found.step - found.interval.low == pytest.approx(max(halves), rel=1e-3)


def test_less_than_two_weeks_on_a_side_say_nothing() -> None:
    days = days_around(1)
    assert compare(days, np.ones(len(days)), np.ones(len(days), dtype=bool)) is None


def test_weeks_on_both_sides_are_as_many_as_the_log_has_and_stop_at_another_change() -> None:
    at = instant("2026-10-21T14:00", ZONE)
    first, last = instant("2026-09-01", ZONE), instant("2026-11-20", ZONE)
    assert weeks_around(at, first, last, ZONE) == 4
    assert weeks_around(at, at - 400 * DAY, at + 400 * DAY, ZONE) == 8
    assert weeks_around(at, first, last, ZONE, (at + 16 * DAY,)) == 2
    assert weeks_around(at, at, last, ZONE) == 0
    start, end = bounds(from_us(at, ZONE).date(), 1, ZONE)  # over the clock change of 2026-10-25 (IANA tz database)
    assert (end - start) == 15 * DAY + DAY // 24
