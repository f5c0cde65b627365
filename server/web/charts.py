"""The geometry of the charts: plain numbers that the templates draw as SVG, so that nothing here has to know about
markup.
"""

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.telling.words import scale_of

BAR_WIDTH = 320.0
BAR_HEIGHT = 10.0


@dataclass(frozen=True)
class Bar:
    """A bar as wide as its share of the longest, and a tick where the usual value lies."""

    width: float
    usual_x: float | None
    full: float = BAR_WIDTH
    height: float = BAR_HEIGHT


def bars(values: Sequence[float], usual: Sequence[float | None]) -> tuple[Bar, ...]:
    """One bar a value, all on one scale that holds the usual values too."""
    longest = max([*values, *(mark for mark in usual if mark is not None)], default=0.0)

    def placed(value: float) -> float:
        return value / longest * (BAR_WIDTH - 2) if longest > 0 else 0.0

    def bar(value: float, mark: float | None) -> Bar:
        width = max(2.0, placed(value)) if value > 0 else 0.0
        return Bar(round(width, 1), None if mark is None else round(1 + placed(mark), 1))

    return tuple(bar(value, mark) for value, mark in zip(values, usual, strict=True))


@dataclass(frozen=True)
class Cell:
    """One hour of one day: a column that fills from the bottom. `height` None: no such hour, or nothing seen."""

    x: float
    y: float
    height: float | None
    top: float


@dataclass(frozen=True)
class Mark:
    """A text on the chart."""

    x: float
    y: float
    text: str


@dataclass(frozen=True)
class NoteMark:
    """A note on a chart: a line downwards from (x, y), and its letter."""

    x: float
    y: float
    height: float
    text: str


@dataclass(frozen=True)
class HourMap:
    """Days downwards, hours across."""

    width: float
    height: float
    cell_width: float
    cell_height: float
    cells: tuple[Cell, ...]
    days: tuple[Mark, ...]
    hours: tuple[Mark, ...]
    lines: tuple[float, ...]  #: x of the line before each labelled hour
    full: str  #: what a full column stands for
    noted: tuple[NoteMark, ...] = ()  #: the keeper's notes


_LEFT, _TOP, _STEP_X, _STEP_Y, _PAD = 52.0, 18.0, 13.0, 30.0, 2.0


def hour_map(
    seconds: npt.NDArray[np.float64],
    days: Sequence[str],
    scale_words: dict[int, str],
    notes: Sequence[tuple[int, float, str]] = (),
) -> HourMap:
    """The map of airtime, shape (days, 24); one scale for all cells, the least of 15, 30, 60 and 120 min that holds the
    fullest. `notes` are rows, clock hours and letters.
    """
    fullest = float(np.nanmax(seconds)) if np.isfinite(seconds).any() else 0.0
    scale = scale_of(fullest)
    height = _STEP_Y - 2 * _PAD
    cells = []
    for row in range(len(days)):
        bottom = _TOP + (row + 1) * _STEP_Y - _PAD
        for hour in range(24):
            value = float(seconds[row, hour])
            filled = None if math.isnan(value) else round(min(1.0, value / scale) * height, 1)
            if filled is not None and value > 0:
                filled = max(filled, 1.0)  # something on the air must show
            cells.append(Cell(_LEFT + hour * _STEP_X + 1, bottom - height, filled, bottom - (filled or 0.0)))
    return HourMap(
        width=_LEFT + 24 * _STEP_X + 2,
        height=_TOP + len(days) * _STEP_Y + 2,
        cell_width=_STEP_X - 2,
        cell_height=height,
        cells=tuple(cells),
        days=tuple(Mark(0, _TOP + (row + 0.64) * _STEP_Y, day) for row, day in enumerate(days)),
        hours=tuple(Mark(_LEFT + hour * _STEP_X + 1, 12, f"{hour:02d}") for hour in range(0, 24, 3)),
        lines=tuple(_LEFT + hour * _STEP_X for hour in range(0, 24, 6)),
        full=scale_words[scale],
        noted=tuple(
            NoteMark(round(_LEFT + hour * _STEP_X, 1), _TOP + row * _STEP_Y, _STEP_Y, letter)
            for row, hour, letter in notes
        ),
    )


MOST_STEPS = 4
_OF_TIME = (10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1200.0, 1800.0)


def round_ticks(top: float, time: bool = False) -> tuple[float, ...]:
    """Values of an axis from 0 to `top` or just beyond it: whole steps of 1, 2 or 5 in a power of ten, four at the
    most. A `time` in seconds has steps that are round in the unit that it is told in: 10 s and
    more, min or h.
    """
    step = next(step for step in (_steps_of_time() if time else _steps()) if top <= MOST_STEPS * step)
    return tuple(step * place for place in range(max(1, math.ceil(top / step)) + 1))


def _steps() -> Iterator[float]:
    for power in itertools.count():
        yield from (base * 10.0**power for base in (1, 2, 5))


def _steps_of_time() -> Iterator[float]:
    yield from _OF_TIME
    yield from (step * 3600.0 for step in _steps())
