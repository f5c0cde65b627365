"""The geometry of the charts: plain numbers that the templates draw as SVG, so that nothing here has to know about
markup.
"""

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

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
