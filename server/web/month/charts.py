"""The charts of the Month page as plain numbers and paths that its template draws as SVG."""

from dataclasses import dataclass

from server.report.charts import Trend
from server.web.charts import Mark


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
