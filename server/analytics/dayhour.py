"""Airtime by local day and local clock hour, for charts."""

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints, Window
from server.analytics.traffic import QUARTER
from shared import spans as sp
from shared.zones import DAY, SECOND, from_us, midnight


@dataclass(frozen=True)
class DayHours:
    """One row a local day that the window touches, one column a local clock hour."""

    days: tuple[dt.date, ...]
    seconds: npt.NDArray[
        np.float64
    ]  #: (days, 24) airtime; nan where the day has no such hour, or nothing of it was seen
    share: npt.NDArray[np.float64]  #: (days, 24) airtime over seen time; nan likewise


def day_hour_map(covered: sp.Spans, window: Window, zone: ZoneInfo, blind: sp.Spans = sp.NONE) -> DayHours:
    """Airtime of a canonical set in each local day and clock hour of the window. An hour that a day has twice adds
    both.
    """
    days: list[dt.date] = []
    starts: list[Ints] = []
    hours: list[Ints] = []
    day = from_us(window[0], zone).date()
    while (first := midnight(day, zone)) < window[1]:
        after = midnight(day + dt.timedelta(days=1), zone)
        quarters = np.arange(first, after, QUARTER, dtype=np.int64)
        if after - first == DAY:
            hours.append(np.arange(96, dtype=np.int64) // 4)
        else:
            hours.append(np.array([from_us(int(instant), zone).hour for instant in quarters], dtype=np.int64))
        starts.append(quarters)
        days.append(day)
        day += dt.timedelta(days=1)
    if not days:
        return DayHours((), np.empty((0, 24)), np.empty((0, 24)))
    edges = np.append(np.concatenate(starts), midnight(day, zone))
    row = np.repeat(np.arange(len(days)), [len(quarters) for quarters in starts])
    cell = row * 24 + np.concatenate(hours)

    def by_cell(spans: sp.Spans) -> npt.NDArray[np.float64]:
        inside = sp.binned(sp.clip(spans, *window), edges)
        return np.bincount(cell, inside.astype(np.float64), minlength=len(days) * 24).reshape(-1, 24).astype(np.float64)

    airtime, seen = by_cell(covered), by_cell(sp.complement(blind, *window))
    seconds = np.where((seen > 0) | (airtime > 0), airtime / SECOND, np.nan)
    share = np.where(seen > 0, airtime / np.maximum(seen, 1), np.nan)
    return DayHours(tuple(days), seconds, share)
