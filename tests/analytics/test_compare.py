"""Comparison with the windows before, against scipy's median absolute deviation."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import median_abs_deviation, norm

from server.analytics.compare import MAD_TO_SD, Past, compare, is_notable

numbers = st.floats(-1000, 1000).map(lambda value: round(value, 2))


def seen(*values: float | None) -> list[Past]:
    return [Past(value, 1.0) for value in values]


@settings(max_examples=200, deadline=None)
@given(numbers, st.lists(numbers, min_size=6, max_size=13))
def test_notable_is_what_scipys_mad_says(value: float, record: list[float]) -> None:
    limit = 2.5 * 1.4826 * float(median_abs_deviation(record))
    distance = abs(value - float(np.median(record)))
    if limit and abs(distance - limit) > 1e-9:
        assert is_notable(value, record) == (distance > limit)


def test_the_factor_makes_the_mad_of_a_normal_distribution_its_standard_deviation() -> None:
    """1.482602218505602: scipy, worked; the definition rounds it to four places."""
    assert pytest.approx(1 / norm.ppf(0.75), abs=5e-5) == MAD_TO_SD


def test_a_change_is_against_the_window_before_and_the_median_of_the_four_before() -> None:
    change = compare(Past(10.0, 1.0), seen(7.0, 1.0, 2.0, 4.0, 500.0))
    assert (change.since_last, change.since_usual, change.usual, change.notable) == (3.0, 7.0, 3.0, None)


def test_windows_seen_less_than_half_are_left_out_and_not_replaced_by_older_ones() -> None:
    before = [Past(7.0, 0.49), Past(1.0, 0.5), Past(4.0, 1.0), Past(6.0, 1.0), Past(500.0, 1.0)]
    change = compare(Past(10.0, 0.5), before)
    assert (change.since_last, change.usual, change.since_usual) == (None, 4.0, 6.0)


def test_what_is_usual_is_not_said_of_fewer_than_three_seen_windows() -> None:
    before = [Past(7.0, 0.49), Past(1.0, 0.5), Past(None, 1.0), Past(4.0, 1.0)]
    change = compare(Past(10.0, 0.5), before)
    assert (change.usual, change.since_usual) == (None, None)


def test_of_a_window_seen_less_than_half_nothing_is_said() -> None:
    change = compare(Past(99.0, 0.3), seen(*range(13)))
    assert (change.since_last, change.since_usual, change.notable) == (None, None, None)


def test_without_anything_before_nothing_is_said() -> None:
    change = compare(Past(1.0, 1.0), [])
    assert (change.since_last, change.since_usual, change.usual, change.notable) == (None, None, None, None)


def test_notable_needs_six_windows_of_the_last_thirteen() -> None:
    assert compare(Past(99.0, 1.0), seen(1, 2, 3, 4, 5)).notable is None
    assert compare(Past(99.0, 1.0), seen(1, 2, 3, 4, 5, 6)).notable is True
    thirteen = [*seen(1, 2, 3, 4, 5), *[Past(1.0, 0.0)] * 8]
    assert compare(Past(99.0, 1.0), [*thirteen, *seen(6, 7, 8)]).notable is None  # the 14th and older are no record


def test_the_bound_itself_is_not_notable() -> None:
    record = [-1.0, -1.0, -1.0, 0.0, 1.0, 1.0, 1.0]  # median 0, MAD 1
    assert is_notable(2.5 * 1.4826, record) is False
    assert is_notable(2.5 * 1.4826 + 1e-6, record) is True


def test_where_most_of_the_record_is_one_value_only_what_lies_outside_all_of_it_is_notable() -> None:
    record = [0.0] * 8 + [1.0, 3.0]  # MAD 0: by the rule alone a single time-out would be notable
    assert [is_notable(value, record) for value in (0, 1, 3, 4, -1)] == [False, False, False, True, True]
    assert is_notable(1.0, [0.0] * 6) is True
