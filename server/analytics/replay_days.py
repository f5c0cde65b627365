"""Local days of a window, and what falls on each: what the bootstrap over days draws from."""

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints, Window
from shared import spans as sp
from shared.zones import SECOND, from_us, midnight

Floats = npt.NDArray[np.float64]


def day_edges(window: Window, zone: ZoneInfo) -> Ints:
    """The window's ends and the local midnights between them: day i is [edges[i], edges[i + 1])."""
    edges, day = [window[0]], from_us(window[0], zone).date()
    while (after := midnight(day := day + dt.timedelta(days=1), zone)) < window[1]:
        edges.append(after)
    return np.array([*edges, window[1]], dtype=np.int64)


def days_seen(edges: Ints, blind: sp.Spans) -> npt.NDArray[np.bool_]:
    """For each day, whether anything of it was seen."""
    return sp.binned(blind, edges) < np.diff(edges)


def counts_by_day(instants: Ints, edges: Ints, weights: Ints | None = None) -> Floats:
    """How many instants (or their weights) fall on each day, shape (days,)."""
    day = np.searchsorted(edges, instants, side="right") - 1
    return np.bincount(day, weights, minlength=len(edges) - 1).astype(np.float64)


def seconds_by_day(covered: sp.Spans, edges: Ints) -> Floats:
    """Seconds covered on each day, shape (days,)."""
    return sp.binned(covered, edges) / SECOND
