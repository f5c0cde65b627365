"""The chart of one link's weeks as plain numbers that the template draws as SVG."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.telling.words import duration
from server.web.charts import Mark, NoteMark, round_ticks

LEFT, TOP, DEPTH, ACROSS = 46.0, 16.0, 70.0, 290.0


@dataclass(frozen=True)
class Column:
    """The time down in one week; one that was not known is hatched from top to bottom."""

    x: float
    y: float
    width: float
    height: float
    known: bool


@dataclass(frozen=True)
class DownChart:
    """Time down by week, and how many flaps were in it."""

    title: str
    width: float
    height: float
    left: float
    right: float
    columns: tuple[Column, ...]
    rules: tuple[float, ...]  #: y of the lines across
    marks: tuple[Mark, ...]
    flaps: tuple[Mark, ...]  #: how many, above a week's column
    says: str
    noted: tuple[NoteMark, ...] = ()  #: the keeper's notes


def down_chart(
    title: str,
    down_s: Sequence[float | None],
    flaps: Sequence[int | None],
    weeks: Sequence[str],
    says: str,
    notes: Sequence[tuple[float, str]] = (),
) -> DownChart:
    """Columns on a scale of their own; None where a week is not known. `notes` are weeks after the first, and
    letters.
    """
    levels = round_ticks(max([60.0, *(value for value in down_s if value is not None)]), time=True)
    step = ACROSS / max(1, len(down_s))

    def y(value: float) -> float:
        return round(TOP + DEPTH * (1 - value / levels[-1]), 1)

    def column(place: int, value: float | None) -> Column:
        top = TOP if value is None else y(value) if value == 0 else min(y(value), TOP + DEPTH - 1)
        x = round(LEFT + place * step + 2, 1)
        return Column(x, top, round(step - 4, 1), round(TOP + DEPTH - top, 1), value is not None)

    columns = tuple(column(place, value) for place, value in enumerate(down_s))
    counted = [
        Mark(round(one.x + one.width / 2, 1), one.y - 3, str(many))
        for one, many in zip(columns, flaps, strict=True)
        if many
    ]
    marks = [Mark(0, y(level) + 4, duration(level) if level else "0") for level in levels]
    if weeks:
        marks += [Mark(LEFT, TOP + DEPTH + 15, weeks[0]), Mark(LEFT + ACROSS - 46, TOP + DEPTH + 15, weeks[-1])]
    return DownChart(
        title=title,
        width=LEFT + ACROSS + 4,
        height=TOP + DEPTH + 20,
        left=LEFT,
        right=LEFT + ACROSS,
        columns=columns,
        rules=tuple(y(level) for level in levels),
        marks=tuple(marks),
        flaps=tuple(counted),
        says=says,
        noted=tuple(NoteMark(round(LEFT + after * step, 1), TOP, DEPTH, letter) for after, letter in notes),
    )
