"""Where a series steps: against published values, the library that is known for it, and simulated drift."""

from itertools import combinations

import numpy as np
import pytest
import statsmodels.api
from hypothesis import given
from hypothesis import strategies as st

from server.analytics.segments import SIGMA, segments, steps, without_outliers

NILE = np.asarray(statsmodels.api.datasets.nile.load_pandas().data["volume"], dtype=np.float64)  # 1871 to 1970


def error(series: np.ndarray, breaks: list[int]) -> float:
    return sum(float(((part - part.mean()) ** 2).sum()) for part in np.split(series, breaks))


def test_the_flow_of_the_nile_steps_after_1898() -> None:
    # G. W. Cobb 1978 (statsmodels.datasets.nile; seen, worked): 1898, the 28th value, is the last of the old level.
    (place,) = segments(NILE, 3 * NILE.var(), 7)
    assert place == 28 and 1871 + place - 1 == 1898
    assert NILE[:28].mean() == pytest.approx(1097.75) and NILE[28:].mean() == pytest.approx(849.972, abs=5e-4)


def test_the_segmentation_is_that_of_ruptures() -> None:
    # Reference library: ruptures 1.1, Dynp and Pelt with model l2 and jump 1.
    ruptures = pytest.importorskip("ruptures")
    assert ruptures.Dynp(model="l2", min_size=7, jump=1).fit(NILE).predict(n_bkps=1)[:-1] == [28]
    for seed in range(8):
        rng = np.random.default_rng(seed)
        series = rng.standard_normal(120) + np.repeat(rng.uniform(-4, 4, 4), 30)
        theirs = ruptures.Pelt(model="l2", min_size=7, jump=1).fit(series).predict(pen=15.0)[:-1]
        assert segments(series, 15.0, 7) == theirs


@given(st.lists(st.integers(-9, 9), min_size=4, max_size=11), st.integers(1, 3), st.sampled_from([0.5, 4.0, 30.0]))
def test_no_other_segmentation_costs_less(values: list[int], least: int, penalty: float) -> None:
    series = np.array(values, dtype=np.float64)
    found = segments(series, penalty, least)
    costs = []
    for many in range(len(series)):
        for breaks in combinations(range(1, len(series)), many):
            if min(np.diff([0, *breaks, len(series)])) >= least:
                costs.append(error(series, list(breaks)) + penalty * many)
    assert error(series, found) + penalty * len(found) == pytest.approx(min(costs))


def test_the_factor_of_the_median_deviation_is_the_normal_distributions() -> None:
    scipy = pytest.importorskip("scipy.stats")
    assert pytest.approx(1 / scipy.norm.ppf(0.75), rel=1e-14) == SIGMA


def test_a_drift_is_no_step_and_a_spell_of_two_days_is_none() -> None:
    rng = np.random.default_rng(3)
    drift = 2 * np.sin(2 * np.pi * np.arange(365) / 365) + 0.5 * rng.standard_normal(365)
    assert steps(drift) == []
    spell = 0.5 * rng.standard_normal(100)
    spell[50:52] += 10
    assert steps(spell) == [] and without_outliers(spell).max() < 4


def test_a_step_shorter_than_a_week_is_none_and_few_values_have_none() -> None:
    assert steps(np.array([0.0] * 10)) == [] and steps(np.array([])) == []
    assert steps(np.concatenate([np.zeros(60), np.full(5, 9.0)])) == []


def test_small_turns_of_values_that_are_mostly_alike_hide_no_step() -> None:
    rng = np.random.default_rng(5)
    rounded = np.where(rng.random(120) < 0.1, 0.1, 0.0) + np.where(np.arange(120) // 10 % 2, 0.05, 0.0)
    assert steps(rounded, 7, 0.1) == []
    rounded[70:] += 1.0
    assert [one.place for one in steps(rounded, 7, 0.1)] == [70]
