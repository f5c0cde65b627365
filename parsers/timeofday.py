"""Stamps that tell the time of day only: the days are counted over the midnights between lines.

Pure: where a file ends in time (its time of change, or the moment of reading where that is earlier) comes from outside.
"""

from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from parsers.clock import wall_clock
from parsers.stamps import DAYLESS, INSTANT, WALL
from shared.zones import DAY, HOUR, SECOND

Ints = npt.NDArray[np.int64]
BLIND_GAP_US = 20 * HOUR  #: a line so much later in the day than the one before it was written late, before midnight
AHEAD_US = 60 * SECOND  #: a host's clock may be so much ahead of the file's time of change
SAYS = (
    "Its stamps have no date: days are counted back from the file's time of change, and a gap of more than 20 h can't"
    " be seen."
)


def with_days(
    kinds: npt.NDArray[np.uint8], us: Ints, zone: ZoneInfo, last_wall: int | None, first_day: int | None, around_us: int
) -> tuple[npt.NDArray[np.uint8], Ints]:
    """Puts stamps without a date (DAYLESS, microseconds of the day) on their days; they become WALL. The other (n,)
    stay.

    `first_day` (days since 1970) is that of the first such stamp; where it isn't known, days go on from `last_wall`,
    the wall clock of the stamp before, or else are counted back from a stamp with a date or from `around_us`, near
    which the last one lies, or before.
    """
    at = np.flatnonzero(np.isin(kinds, (DAYLESS, INSTANT, WALL)))
    dated = kinds[at] != DAYLESS
    wall = us[at].copy()
    instants = kinds[at] == INSTANT
    if instants.any():
        wall[instants] = wall_clock(wall[instants], zone)
    time = wall % DAY
    fresh = first_day is not None or last_wall is None
    step = np.diff(time, prepend=time[0] if fresh else np.int64((last_wall or 0) % DAY))
    passed = np.cumsum(np.where(step < BLIND_GAP_US - DAY, 1, np.where(step >= BLIND_GAP_US, -1, 0)))
    if first_day is not None:
        start = np.int64(first_day) - passed[int(np.argmin(dated))]
    elif last_wall is not None:
        start = np.int64(last_wall // DAY)
    elif dated.any():
        first = int(np.argmax(dated))
        start = wall[first] // DAY - passed[first]
    else:
        start = np.int64(latest_day(int(time[-1]), zone, around_us)) - passed[-1]
    setter = np.maximum.accumulate(np.where(dated, np.arange(len(at)), -1))  # a stamp with a date sets the count anew
    base = np.where(setter >= 0, wall[setter] // DAY - passed[setter], start)
    out, now = us.copy(), kinds.copy()
    out[at] = np.where(dated, us[at], (base + passed) * DAY + time)
    now[kinds == DAYLESS] = WALL
    return now, out


def near_days(
    kinds: npt.NDArray[np.uint8], us: Ints, zone: ZoneInfo, near_us: Ints
) -> tuple[npt.NDArray[np.uint8], Ints]:
    """The same for lines each of which was written after the line that had the instant `near_us` (n,) (0: not
    known).
    """
    earliest = wall_clock(near_us, zone) - (DAY - BLIND_GAP_US)
    dayless = kinds == DAYLESS
    days = -((us - earliest) // DAY)
    return np.where(dayless, WALL, kinds).astype(np.uint8), np.where(dayless, days * DAY + us, us)


def latest_day(time_of_day: int, zone: ZoneInfo, around_us: int) -> int:
    """The latest day (since 1970) on which a time of day lies no later than an instant."""
    return (int(wall_clock(np.array([around_us + AHEAD_US], dtype=np.int64), zone)[0]) - time_of_day) // DAY
