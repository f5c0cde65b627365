"""The charts of the Month page as plain numbers and paths that its template draws as SVG."""

from dataclasses import dataclass

from server.report.sheet import HourCells, Trend
from server.web.charts import Mark

_LEFT, _TOP, _STEP_X, _STEP_Y = 46, 18, 13, 17


@dataclass(frozen=True)
class MonthMap:
    """Days downwards, hours across; the paths of all cells, of what is filled in them, and of those that were not
    seen."""

    width: int
    height: int
    days: tuple[Mark, ...]
    hours: tuple[Mark, ...]
    track: str
    fill: str
    unseen: str


def month_map(map_: HourCells) -> MonthMap:
    """Each cell fills from the bottom; something on the air always shows."""
    high = _STEP_Y - 3
    track: list[str] = []
    fill: list[str] = []
    unseen: list[str] = []
    for row, cells in enumerate(map_.cells):
        bottom = _TOP + (row + 1) * _STEP_Y - 1
        for hour, share in enumerate(cells):
            x = _LEFT + hour * _STEP_X + 1
            (unseen if share is None else track).append(f"M{x} {bottom - high}h{_STEP_X - 2}v{high}h-{_STEP_X - 2}z")
            if share:
                filled = f"{max(1.0, share * high):.1f}"
                fill.append(f"M{x} {bottom}h{_STEP_X - 2}v-{filled}h-{_STEP_X - 2}z")
    return MonthMap(
        width=_LEFT + 24 * _STEP_X + 2,
        height=_TOP + len(map_.days) * _STEP_Y + 2,
        days=tuple(Mark(0, _TOP + (row + 0.75) * _STEP_Y, day) for row, day in enumerate(map_.days)),
        hours=tuple(Mark(_LEFT + hour * _STEP_X + 1, 12, f"{hour:02d}") for hour in range(0, 24, 3)),
        track="".join(track),
        fill="".join(fill),
        unseen="".join(unseen),
    )


@dataclass(frozen=True)
class Upright:
    """One month of a trend: `kind` is now, past, half (seen) or none (not seen)."""

    x: float
    y: float
    width: float
    height: float
    kind: str


@dataclass(frozen=True)
class TrendChart:
    """Thirteen uprights with the first letter of each month below."""

    width: int
    height: int
    bars: tuple[Upright, ...]
    months: tuple[Mark, ...]


def trend_chart(trend: Trend) -> TrendChart:
    """The last month is filled, those before it are outlined."""
    step, high, width = 25, 60, 20
    bars, months = [], []
    last = len(trend.columns) - 1
    for at, column in enumerate(trend.columns):
        known = column.height is not None
        tall = round(max(1.0, (column.height or 0.0) * high), 1) if known else 4.0
        kind = "none" if not known else "half" if column.half_seen else "now" if at == last else "past"
        bars.append(Upright(at * step + 2, 2 + high - tall, width, tall, kind))
        months.append(Mark(at * step + 8, high + 15, column.month[:1]))
    return TrendChart(step * len(trend.columns), high + 20, tuple(bars), tuple(months))
