"""The geometry of the replay's curves: plain numbers that the template draws as SVG."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from server.telling.numbers import seconds_set
from server.web.charts import Mark, round_ticks

LEFT, TOP, WIDTH, HEIGHT, BELOW = 46.0, 8.0, 270.0, 90.0, 18.0
STEPS_X = (0, 15, 30, 45, 60)


@dataclass(frozen=True)
class CurveChart:
    """One curve over the hold, its interval as a band, and where the hold in force lies."""

    says: str  #: for whoever does not see it
    width: float
    height: float
    line: str  #: SVG path
    band: str  #: SVG path; empty where there is no interval
    rules: tuple[float, ...]  #: y of the lines across
    left: float
    right: float
    x_marks: tuple[Mark, ...]
    y_marks: tuple[Mark, ...]
    in_force: float  #: x
    bottom: float


def curve_chart(
    says: str,
    holds: Sequence[float],
    values: Sequence[float],
    band: Sequence[tuple[float, float]],
    in_force: float,
    tell: Callable[[float], str],
    time: bool = False,
) -> CurveChart:
    """A curve of values over holds in seconds, from none to a round number that holds all of values and band. `band`
    is empty or one pair a value; `time` says that values are seconds.
    """
    levels = round_ticks(max([*values, *(high for _, high in band)], default=0.0), time)
    top = levels[-1]
    furthest = max(60.0, *holds)

    def x(hold: float) -> float:
        return round(LEFT + hold / furthest * WIDTH, 1)

    def y(value: float) -> float:
        return round(TOP + (1 - value / top) * HEIGHT, 1)

    def path(points: Sequence[tuple[float, float]]) -> str:
        return "M" + "L".join(f"{x(hold)} {y(value)}" for hold, value in points)

    around = ""
    if band:
        over = [(hold, high) for hold, (_, high) in zip(holds, band, strict=True)]
        under = [(hold, low) for hold, (low, _) in zip(holds, band, strict=True)]
        around = path([*over, *under[::-1]]) + "z"
    return CurveChart(
        says=says,
        width=LEFT + WIDTH + 12,
        height=TOP + HEIGHT + BELOW,
        line=path(list(zip(holds, values, strict=True))),
        band=around,
        rules=tuple(y(level) for level in levels),
        left=LEFT,
        right=LEFT + WIDTH,
        x_marks=tuple(Mark(x(step), TOP + HEIGHT + 14, seconds_set(step)) for step in STEPS_X),
        y_marks=tuple(Mark(0, y(level) + 4, tell(level)) for level in levels),
        in_force=x(in_force),
        bottom=TOP + HEIGHT,
    )
