"""Intervals against scipy and published cases."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from server.analytics.intervals import bootstrap, bootstrap_count, count_interval, t_quantile, wilson


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_gives_the_cases_of_newcombe(hits: int, of: int, low: float, high: float) -> None:
    # R. G. Newcombe, Statistics in Medicine 17, 1998 (cases from memory); and as statsmodels works them out.
    found = wilson(hits, of)
    assert found is not None
    assert (round(found.low, 4), round(found.high, 4)) == (low, high)
    assert (found.low, found.high) == pytest.approx(proportion_confint(hits, of, method="wilson"), abs=1e-9)


@given(st.integers(1, 5000).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_wilson_is_that_of_scipy(case: tuple[int, int]) -> None:
    found, theirs = wilson(*case), stats.binomtest(*case).proportion_ci(method="wilson")
    assert found is not None
    assert found.low == pytest.approx(theirs.low, abs=1e-9) and found.high == pytest.approx(theirs.high, abs=1e-9)


def test_a_share_of_nothing_is_not_known_and_of_too_much_is_refused() -> None:
    assert wilson(0, 0) is None
    with pytest.raises(ValueError, match="hits"):
        wilson(3, 2)


@pytest.mark.parametrize(
    ("freedom", "within"), [(1, 0.12), (2, 0.01), (3, 0.005), (6, 0.0005), (27, 1e-5), (400, 1e-7)]
)
def test_students_t_is_that_of_scipy(freedom: int, within: float) -> None:
    assert t_quantile(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), rel=within)
    with pytest.raises(ValueError, match="freedom"):
        t_quantile(0)


@pytest.mark.parametrize(
    ("freedom", "point"), [(2, 4.303), (4, 2.776), (6, 2.447), (10, 2.228), (13, 2.160), (27, 2.052), (29, 2.045)]
)
def test_students_t_is_that_of_the_printed_tables(freedom: int, point: float) -> None:
    # Two-sided 5 % points as statistical tables print them (from memory; scipy gives the same to the third digit).
    assert round(float(stats.t.ppf(0.975, freedom)), 3) == point
    assert t_quantile(freedom) == pytest.approx(point, rel=0.01)


@pytest.mark.parametrize("dispersion", [1.0, 2.0])
@pytest.mark.parametrize("count", [0, 1, 5, 40, 1000])
def test_the_interval_of_a_count_holds_the_means_that_the_score_test_does_not_refuse(
    count: int, dispersion: float
) -> None:
    # The score test of a mean m with variance φm refuses where |n - m| > z sqrt(φm); z from scipy.
    found, z = count_interval(count, dispersion), stats.norm.ppf(0.975)
    for end in (found.low, found.high):
        assert abs(count - end) == pytest.approx(z * math.sqrt(dispersion * end), abs=1e-6)


@pytest.mark.parametrize("days", [7, 28])
def test_the_bootstrap_holds_the_true_total_as_often_as_it_says(days: int) -> None:
    rng, within = np.random.default_rng(1), 0
    for _ in range(200):
        found = bootstrap(rng.gamma(4, 5, size=days))
        assert found is not None
        within += found.low <= 20 * days <= found.high
    assert within >= 180  # of 200; 190 are meant


@pytest.mark.parametrize("days", [7, 14, 28])
@pytest.mark.parametrize("mean", [0.3, 3.0, 20.0])
def test_the_interval_of_counts_that_vary_twice_as_much_as_chance_holds_their_mean_as_often_as_it_says(
    days: int, mean: float
) -> None:
    """Negative binomial days with a variance of twice the mean. 95 % are meant, and no fewer than 93 % are taken."""
    rng, trials, within = np.random.default_rng(int(100 * mean) + days), 400, 0
    for _ in range(trials):
        found = bootstrap_count(rng.negative_binomial(mean, 0.5, size=days).astype(np.float64))
        assert found is not None
        within += found.low <= mean * days <= found.high
    assert within >= 0.93 * trials


def test_the_bootstrap_is_reproducible_and_needs_seven_days() -> None:
    daily = np.array([3.0, 5, 1, 8, 2, 2, 9])
    assert bootstrap(daily) == bootstrap(daily)
    assert bootstrap(daily[:6]) is None and bootstrap_count(daily[:6]) is None


def test_the_bootstrap_of_28_days_is_near_that_of_scipy() -> None:
    daily = np.random.default_rng(3).gamma(4, 5, size=28)
    theirs = stats.bootstrap(
        (daily,), np.sum, method="percentile", n_resamples=4000, rng=np.random.default_rng(4)
    ).confidence_interval
    found = bootstrap(daily)
    assert found is not None
    ours, width = found.high - found.low, theirs.high - theirs.low
    assert width < ours < 1.15 * width  # the expanded one is a little wider


def test_a_month_without_any_does_not_read_as_certainty() -> None:
    found = bootstrap_count(np.zeros(30))
    assert found is not None and found.low == 0 and found.high == pytest.approx(2 * stats.norm.ppf(0.975) ** 2)
