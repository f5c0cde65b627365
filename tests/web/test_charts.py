"""The geometry of the charts."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.telling.words import SCALE_WORDS, duration
from server.web.cell_map import WEEK, hour_map
from server.web.charts import BAR_WIDTH, MOST_STEPS, bars, round_ticks

DAYS = ["Mon 16", "Tue 17", "Wed 18", "Thu 19", "Fri 20", "Sat 21", "Sun 22"]


@given(st.lists(st.floats(0, 1e6), max_size=8))
def test_bars_stand_in_proportion_and_inside_their_track(values: list[float]) -> None:
    drawn = bars(values, [None] * len(values))
    assert all(0 <= bar.width <= BAR_WIDTH for bar in drawn)
    for value, bar in zip(values, drawn, strict=True):
        assert (bar.width > 0) == (value > 0)
        if value > 0:
            assert bar.width == pytest.approx(max(2.0, value / max(values) * (BAR_WIDTH - 2)), abs=0.06)


def test_the_usual_mark_is_on_the_same_scale_as_the_bar() -> None:
    small, large = bars([50, 0], [100, None])
    assert small.width == pytest.approx((small.usual_x or 0) / 2, abs=0.6)
    assert large.width == 0 and large.usual_x is None


def test_an_hour_that_does_not_exist_has_no_column_and_a_busy_one_a_full_column() -> None:
    seconds = np.zeros((7, 24))
    seconds[6, 1], seconds[2, 19], seconds[0, 0] = np.nan, 3600, 0.5
    drawn = hour_map(seconds, DAYS, SCALE_WORDS)
    assert drawn.track.count("M") == 7 * 24 - 1 and drawn.unseen.count("M") == 1 and drawn.full == "a whole hour"
    filled = columns(drawn.fill)
    assert [height for *_, height in filled] == [1.0, WEEK.height]  # something was on the air: it shows
    assert columns(drawn.unseen)[0][0] == WEEK.left + WEEK.step_x + 1


def columns(path: str) -> list[tuple[float, float, float, float]]:
    """x, y, width and height upwards of each cell of a path."""
    found = re.findall(r"M([\d.]+) ([\d.]+)h([\d.]+)v-?([\d.]+)h-[\d.]+z", path)
    return [(float(x), float(y), float(width), float(height)) for x, y, width, height in found]


@settings(max_examples=25)
@given(st.lists(st.floats(0, 7200), min_size=168, max_size=168))
def test_no_column_leaves_its_cell_nor_the_chart(values: list[float]) -> None:
    drawn = hour_map(np.array(values).reshape(7, 24), DAYS, SCALE_WORDS)
    cells = {(x, y + WEEK.height) for x, y, _, _ in columns(drawn.track)}
    for x, bottom, width, height in columns(drawn.fill):
        assert 0 < height <= WEEK.height and (x, bottom) in cells
        assert x >= 0 and x + width <= drawn.width and bottom - height >= 0 and bottom <= drawn.height


@given(st.floats(0, 1e7))
def test_ticks_are_round_evenly_spaced_and_hold_the_greatest_value(top: float) -> None:
    ticks = round_ticks(top)
    step = ticks[1]
    assert ticks[0] == 0 and ticks[-1] >= top and 2 <= len(ticks) <= MOST_STEPS + 1
    assert ticks == tuple(step * place for place in range(len(ticks)))
    assert f"{step:.0f}".rstrip("0") in ("1", "2", "5")


@pytest.mark.parametrize(
    ("top_s", "told"),
    [
        (0, ["0 s", "10 s"]),
        (45, ["0 s", "20 s", "40 s", "1 min"]),
        (4 * 60, ["0 s", "1 min", "2 min", "3 min", "4 min"]),
        (23 * 60, ["0 s", "10 min", "20 min", "30 min"]),
        (29 * 3600, ["0 s", "10 h", "20 h", "30 h"]),
    ],
)
def test_ticks_of_a_time_are_round_in_the_unit_that_they_are_told_in(top_s: float, told: list[str]) -> None:
    assert [duration(tick).replace("\u00a0", " ") for tick in round_ticks(top_s, time=True)] == told
