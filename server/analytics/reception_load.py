"""From the store's rows to the reception of a window: the one way to it, for pages and commands."""

import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any
from zoneinfo import ZoneInfo

from server.analytics.activity import MARGIN
from server.analytics.figure_types import Stretch
from server.analytics.load import days_looked_at, load_activity, load_heard
from server.analytics.reception import AirOvers, Reception, reception
from server.analytics.seen import unlogged_spans
from server.store.engine import Connection
from server.store.overs import count_heard, sum_of_levels
from shared import spans as sp
from shared.zones import SECOND

KEPT = 4
FEW_GAPS = 40  # that are looked into one by one


@dataclass
class ReceptionLoader:
    """Keeps the last few, for as long as what was heard in their days stays the same: lines come every minute, and a
    day that is past seldom changes.
    """

    zone: ZoneInfo
    ids: Mapping[str, str]
    quiet_log_s: float | None
    _kept: OrderedDict[tuple[Any, ...], Reception] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def load(self, connection: Connection, start: int, end: int) -> Reception:
        """What the stations that are heard again and again have in common, by day of the window. Looked at are the 13
        weeks up to its end, or all of it where that is longer, and what of a change is seen after it.
        """
        window = Stretch(start, end, self.zone, blind_s(connection, start, end, self.quiet_log_s))
        days, edges = days_looked_at(start, end, self.zone)
        low, high = int(edges[0]), int(edges[-1])
        overs = AirOvers(*count_heard(connection, start, end))
        key = (start, end, overs, *sum_of_levels(connection, low, high))
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return replace(self._kept[key], window=window)
        found = reception(window, load_heard(connection, low, high, dict(self.ids)), overs, days, edges)
        with self._lock:
            self._kept[key] = found
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return found


def blind_s(connection: Connection, start: int, end: int, quiet_log_s: float | None) -> float:
    """Seconds of a window of which nothing is known, as its activity has them."""
    gaps = sp.clip(unlogged_spans(connection, start - MARGIN, end + MARGIN, quiet_log_s), start, end)
    parts = gaps.tolist() if len(gaps) <= FEW_GAPS else [(start, end)]
    blind = 0
    for first, after in parts:
        activity = load_activity(connection, first, after, quiet_log_s=quiet_log_s)
        blind += sp.length(sp.clip(activity.blind, first, after))
    return blind / SECOND
