"""The chart of what the days have in common, as plain numbers that the template draws as SVG."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from server.telling.moments import MONTHS
from server.telling.reception import signed
from server.web.charts import Mark

LEFT, TOP, DEPTH, ACROSS = 38.0, 22.0, 120.0, 300.0
STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
FURTHEST = 999.0  # a log may say anything; what lies beyond is drawn at the edge
MOST_LINES = 6
LABEL, ROW = 20.0, 10.0  # room that the label of a mark takes
LEAST_LABEL = 22.0  # room that the name of a month takes


@dataclass(frozen=True, order=True)
class DayMark:
    """What is marked on a day: a change, or what the keeper noted of the site."""

    day: dt.date
    label: str  #: as short as a number; what it stands for is told beside the chart


@dataclass(frozen=True)
class Flag:
    """A line down a chart, with its label."""

    x: float
    label: str
    label_y: float


@dataclass(frozen=True)
class DayChart:
    """Days across, a value each with its interval where it has one."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    zero: float  #: y of the line of what was usual
    rules: tuple[float, ...]  #: y of the other lines across
    marks: tuple[Mark, ...]
    intervals: str  #: path of the intervals
    interval_width: float
    values: str  #: path of the values
    unknown: str  #: path of the stretches of which nothing is known
    changes: tuple[Flag, ...]
    notes: tuple[Flag, ...]
    says: str


@dataclass(frozen=True)
class DayValue:
    """One day; None: not known."""

    day: dt.date
    value: float | None
    low: float | None = None
    high: float | None = None


def day_chart(
    days: Sequence[DayValue], unit: str, changes: Sequence[DayMark], notes: Sequence[DayMark], says: str
) -> DayChart:
    """The chart of days that follow one another, one at least. `notes` are the keeper's own, drawn beside."""
    step, bottom = ACROSS / len(days), TOP + DEPTH
    days = [DayValue(one.day, *map(_within, (one.value, one.low, one.high))) for one in days]
    levels = _levels(days)

    def y(value: float) -> float:
        return round(TOP + DEPTH * (levels[-1] - value) / (levels[-1] - levels[0]), 1)

    def x(place: int) -> float:
        return round(LEFT + (place + 0.5) * step, 1)

    width = round(max(0.5, step * 0.7), 2)
    dash = max(1.2, width)
    known = [(place, one, one.value) for place, one in enumerate(days) if one.value is not None]
    marks = [Mark(0, y(level) + 4, signed(level) if level else "0") for level in levels]
    marks.append(Mark(0, 10, unit))
    return DayChart(
        width=LEFT + ACROSS + 2,
        height=bottom + 18,
        left=LEFT,
        right=LEFT + ACROSS,
        top=TOP,
        bottom=bottom,
        zero=y(0.0),
        rules=tuple(y(level) for level in levels if level),
        marks=(*marks, *_months(days, step, bottom + 14)),
        intervals="".join(
            f"M{x(place)} {y(one.low)}V{y(one.high)}"
            for place, one, _ in known
            if one.low is not None and one.high is not None
        ),
        interval_width=width,
        values="".join(f"M{round(x(place) - dash / 2, 1)} {y(value)}h{dash}" for place, _, value in known),
        unknown="".join(
            f"M{round(LEFT + first * step, 1)} {TOP}h{round(many * step, 1)}v{DEPTH}h-{round(many * step, 1)}z"
            for first, many in _unknown(days)
        ),
        changes=_flags(changes, days, step, TOP - 3),
        notes=_flags(notes, days, step, bottom - 3),
        says=says,
    )


def _within(value: float | None) -> float | None:
    return None if value is None else min(max(value, -FURTHEST), FURTHEST)


def _levels(days: Sequence[DayValue]) -> tuple[float, ...]:
    """Round values that hold all days and nothing at all, with a few lines between."""
    values = [0.0]
    for one in days:
        values += [value for value in (one.value, one.low, one.high) if value is not None]
    low, high = min(values), max(values)
    span = max(high - low, 0.4)
    step = next((step for step in STEPS if span <= (MOST_LINES - 1) * step), STEPS[-1])
    first, last = math.floor(low / step), math.ceil(high / step)
    last = max(last, first + 1)
    return tuple(round(place * step, 1) for place in range(first, last + 1))


def _months(days: Sequence[DayValue], step: float, y: float) -> list[Mark]:
    """The names of months where they begin, as far as there is room."""
    found: list[Mark] = []
    for place, one in enumerate(days):
        at = LEFT + place * step
        fits = at <= LEFT + ACROSS - LEAST_LABEL
        if one.day.day == 1 and fits and (not found or at - found[-1].x >= LEAST_LABEL + 8):
            found.append(Mark(round(at, 1), y, MONTHS[one.day.month - 1][:3]))
    return found


def _unknown(days: Sequence[DayValue]) -> list[tuple[int, int]]:
    """Stretches of days that are not known: (first, how many)."""
    found, place = [], 0
    for unknown, group in groupby(days, key=lambda one: one.value is None):
        many = len(list(group))
        if unknown:
            found.append((place, many))
        place += many
    return found


def _flags(marks: Sequence[DayMark], days: Sequence[DayValue], step: float, label_y: float) -> tuple[Flag, ...]:
    """Lines down on their days; a label that would lie on the one before it stands a row higher."""
    first, many = days[0].day, len(days)
    found: list[Flag] = []
    for place, one in sorted(((one.day - first).days, one) for one in marks):
        if not 0 <= place < many:
            continue
        x = round(LEFT + place * step, 1)
        near = bool(found) and x - found[-1].x < LABEL and found[-1].label_y == label_y
        found.append(Flag(x, one.label, label_y - ROW if near else label_y))
    return tuple(found)
