"""When each mode finds the repeater free, by hour of the week: for the users' sheet (docs/definitions.md)."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics import airtime, sharing
from server.analytics.activity import Activity, Window
from server.analytics.dayhour import DayHours, day_hour_map
from shared import spans as sp
from shared.timers import Timers
from shared.zones import HOUR, SECOND

FEWEST_HOURS = 3  #: an hour of the week is told from as many of them on that were at least half seen
Shares = npt.NDArray[np.float64]


@dataclass(frozen=True)
class FreeTime:
    """Of one mode: shares of the seen time in which the repeater is free for it."""

    share: float  #: over the window
    by_hour: Shares  #: (7, 24), Monday and midnight first; nan where too little of such hours was seen

    def fullest(self) -> tuple[int, int, float] | None:
        """Weekday (0 is Monday), hour and share of the hour in which it is free least, the earliest such; None where
        no hour is known.
        """
        if np.isnan(self.by_hour).all():
            return None
        weekday, hour = divmod(int(np.nanargmin(self.by_hour)), 24)
        return weekday, hour, float(self.by_hour[weekday, hour])


def free_time(activity: Activity, window: Window, timers: Timers, zone: ZoneInfo) -> dict[int, FreeTime]:
    """By the code of each mode that held the repeater in the window. Empty where nothing of it was seen."""
    seen = activity.seen(window)
    if not len(seen):
        return {}
    sent = activity.sent
    held_by = sharing.held(sent, sharing.hold_spans(sent, timers))
    streams = airtime.stream_airtime(sent)
    every = day_hour_map(seen, window, zone)
    found = {}
    for mode in (mode for mode, holding in held_by.items() if len(sp.clip(holding, *window))):
        free = sp.difference(seen, taken_for(mode, held_by, streams))
        share = sp.length(free) / sp.length(seen)
        found[mode] = FreeTime(share, _by_hour_of_week(day_hour_map(free, window, zone), every))
    return found


def taken_for(mode: int, held_by: dict[int, sp.Spans], streams: dict[tuple[int, int], sp.Spans]) -> sp.Spans:
    """When a caller of a mode can't begin: another mode holds, or its own is on the air; where it has two slots, on
    both of them.
    """
    others = (holding for other, holding in held_by.items() if other != mode)
    slotted = any((mode, slot) in streams for slot in (1, 2))
    own = airtime.both_slots(streams, mode) if slotted else airtime.mode_airtime(streams, mode)
    return sp.union(*others, own)


def _by_hour_of_week(free: DayHours, seen: DayHours) -> Shares:
    """Free over seen time of each hour of the week, of the days that have it."""
    hour = HOUR / SECOND
    told = np.full((7, 24), np.nan)
    weekdays = np.array([day.weekday() for day in seen.days])
    free_s, seen_s = np.nan_to_num(free.seconds), np.nan_to_num(seen.seconds)
    for weekday in range(7):
        its = weekdays == weekday
        total = seen_s[its].sum(axis=0)
        enough = (seen_s[its] >= hour / 2).sum(axis=0) >= FEWEST_HOURS
        told[weekday] = np.where(enough, free_s[its].sum(axis=0) / np.maximum(total, 1), np.nan)
    return told
