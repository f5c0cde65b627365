"""Thousands are separated by commas, as in British English (common practice, no source)."""

import pytest

from shared.numbers import grouped


@pytest.mark.parametrize(
    ("number", "digits", "text"),
    [
        (0, 0, "0"),
        (999, 0, "999"),
        (1000, 0, "1,000"),
        (2516, 0, "2,516"),
        (1234567.25, 1, "1,234,567.2"),
        (-1204, 0, "-1,204"),
    ],
)
def test_a_number_of_four_digits_and_more_has_its_thousands_separated(number: float, digits: int, text: str) -> None:
    assert grouped(number, digits) == text
