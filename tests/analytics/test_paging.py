"""Lengths of pages from their bits (ITU-R M.584-2 annex 1, 1.1-1.2: preamble of 576 bits at least, batches of 544; bit
rates from memory), and what figures make of them.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.analytics.paging import batches_of, estimated_us, seconds_of_batches
from shared.zones import SECOND


def one(value: float | None) -> np.ndarray:
    return np.array([np.nan if value is None else value])


@pytest.mark.parametrize(
    ("bit_rate", "seconds"),
    [(512, (2.1875, 3.25, 4.3125)), (1200, (0.9333, 1.3867, 1.84)), (2400, (0.4667, 0.6933, 0.92))],
)
def test_one_two_and_three_batches_take_what_the_table_says(bit_rate: int, seconds: tuple[float, ...]) -> None:
    # Worked from the recommendation's bits: 1, 2 and 3 batches.
    found = seconds_of_batches(np.array([1.0, 2.0, 3.0]), np.full(3, float(bit_rate)))
    assert found == pytest.approx(seconds, abs=0.00005)


@pytest.mark.parametrize(("code_words", "batches"), [(0, 1), (1, 1), (16, 1), (17, 2), (32, 2), (33, 3)])
def test_sixteen_code_words_fill_a_batch(code_words: int, batches: int) -> None:
    assert batches_of(one(code_words), one(None)) == batches
    assert batches_of(one(code_words), one(5_000)) == batches  # code words come first


@pytest.mark.parametrize(("characters", "batches"), [(0, 1), (42, 1), (43, 2), (80, 2)])
def test_characters_are_seven_bits_after_an_address(characters: int, batches: int) -> None:
    # An address and 15 code words of 20 bits hold 300 bits, so 42 characters of 7 (worked out by hand; the bits of a
    # character and of a code word from memory).
    assert batches_of(one(None), one(characters)) == batches


@given(st.integers(0, 5_000), st.integers(1, 4_800))
def test_code_words_agree_with_filling_batches_one_by_one(code_words: int, bit_rate: int) -> None:
    bits, left = 576, code_words
    while True:
        bits, left = bits + 544, left - 16
        if left <= 0:
            break
    assert estimated_us(one(bit_rate), one(code_words), one(None))[0] == pytest.approx(bits / bit_rate * SECOND, abs=1)


@pytest.mark.parametrize("told", [(None, 20, None), (1200, None, None), (0, 20, None), (None, None, 40)])
def test_with_too_little_told_nothing_is_estimated(told: tuple[float | None, ...]) -> None:
    assert estimated_us(*(one(value) for value in told)) == -1
