"""A window cut at the edges of the local calendar: clock hours, days, ISO weeks, months."""

import datetime as dt
from typing import Literal, get_args
from zoneinfo import ZoneInfo

from server.analytics.activity import Window
from shared.zones import DAY, HOUR, from_us, midnight

By = Literal["hour", "day", "week", "month"]
BY: tuple[By, ...] = get_args(By)
QUARTER = HOUR // 4


def local_spans(start: int, end: int, by: By, zone: ZoneInfo) -> list[Window]:
    """The hours, days, weeks or months that [start, end) reaches into, in order, the first and last clipped to it.
    A day of a clock change has 23 or 25 hours; a date that the zone skips is none.
    """
    edges = _hour_edges(start, end, zone) if by == "hour" else _date_edges(start, end, by, zone)
    inner = sorted({edge for edge in edges if start < edge < end})
    return list(zip([start, *inner], [*inner, end], strict=True))


def _date_edges(start: int, end: int, by: By, zone: ZoneInfo) -> list[int]:
    day = from_us(start, zone).date()
    if by == "week":
        day -= dt.timedelta(days=day.weekday())
    elif by == "month":
        day = day.replace(day=1)
    edges: list[int] = []
    while not edges or edges[-1] < end:
        edges.append(midnight(day, zone))
        if by == "month":
            day = (day + dt.timedelta(days=32)).replace(day=1)
        else:
            day += dt.timedelta(days=7 if by == "week" else 1)
    return edges


def _hour_edges(start: int, end: int, zone: ZoneInfo) -> list[int]:
    """Instants at which a local clock shows a whole hour. On a day without a clock change they are an hour apart."""
    edges: list[int] = []
    midnights = _date_edges(start, end, "day", zone)
    for first, after in zip(midnights, [*midnights[1:], midnights[-1] + DAY], strict=True):
        if after - first == DAY and from_us(first, zone).minute == 0:
            edges += range(first, after, HOUR)
        else:
            edges += [at for at in range(first, after, QUARTER) if from_us(at, zone).minute == 0]
    return edges
