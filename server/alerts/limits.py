"""What the rules go by: the keeper's settings, and the few numbers that nobody should have to set."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

import numpy as np

from server.alerts.history import Bools
from server.analytics.activity import Ints
from server.config import DUTY_LIMIT, QUIET_DUTY_LIMIT, Width
from shared.zones import DAY, SECOND, from_us, to_us

MINUTE = 60 * SECOND
WIDTHS: dict[Width, int] = {"6min": 6 * MINUTE, "30min": 30 * MINUTE, "60min": 60 * MINUTE}
#: Shares of overs, without tails, that people who take turns don't reach: they leave gaps, even where a tail bridges
#: them.
TALK_LIMITS: dict[Width, float] = {"30min": 0.999, "60min": 0.99}
QUARTER = 15 * MINUTE


@dataclass(frozen=True)
class Limits:
    """All that the rules depend on besides what was heard. Shares are 0 to 1, times microseconds."""

    zone: ZoneInfo
    timeout: int
    grace: int = 10 * SECOND
    quiet: tuple[int, int] = (23 * 60, 7 * 60)  #: local minutes of the day, from and to; equal ones: never
    duty_day: Mapping[Width, float] = field(default_factory=lambda: DUTY_LIMIT.copy())
    duty_night: Mapping[Width, float] = field(default_factory=lambda: QUIET_DUTY_LIMIT.copy())
    rating: float = 1.0  #: share of an hour that the transmitter may be keyed
    link_down: int = 15 * MINUTE
    unread_share: float = 0.1

    def offsets(self, instants: Ints) -> Ints:
        """What the zone adds to UTC at each instant, microseconds. Zones change their offset at whole quarters of an
        hour.
        """
        quarters, back = np.unique(instants // QUARTER, return_inverse=True)
        offsets = np.empty(len(quarters), dtype=np.int64)
        low = 0
        while low < len(
            quarters
        ):  # a stretch of days with one offset at both ends has no change inside, or two that nobody would notice
            first = self._offset(int(quarters[low]) * QUARTER)
            high = int(np.searchsorted(quarters, quarters[low] + 7 * DAY // QUARTER))
            if high - low > 1 and self._offset(int(quarters[high - 1]) * QUARTER) == first:
                offsets[low:high] = first
                low = high
                continue
            day = int(np.searchsorted(quarters, quarters[low] + DAY // QUARTER))
            if self._offset(int(quarters[day - 1]) * QUARTER) == first:
                offsets[low:day] = first
            else:
                offsets[low:day] = [self._offset(int(quarter) * QUARTER) for quarter in quarters[low:day]]
            low = day
        return offsets[back]

    def _offset(self, instant: int) -> int:
        offset = from_us(instant, self.zone).utcoffset()
        return round(offset.total_seconds()) * SECOND if offset else 0

    def is_quiet(self, instants: Ints) -> Bools:
        """For each instant, whether it lies in the quiet hours, by the local clock."""
        minute = (instants + self.offsets(instants)) % DAY // MINUTE
        first, after = self.quiet
        if first <= after:
            return (minute >= first) & (minute < after)
        return (minute >= first) | (minute < after)

    def quiet_at(self, instant: int) -> bool:
        return bool(self.is_quiet(np.array([instant], dtype=np.int64))[0])

    def morning_after(self, instant: int) -> int:
        """When the quiet hours end next."""
        day = from_us(instant, self.zone).date()
        for date in (day, day + dt.timedelta(days=1)):
            morning = to_us(
                dt.datetime(date.year, date.month, date.day, self.quiet[1] // 60, self.quiet[1] % 60, tzinfo=self.zone)
            )
            if morning > instant:
                return morning
        return instant + DAY  # a clock change swallowed the morning


def quiet_minutes(text: str) -> tuple[int, int]:
    """`23:00-07:00` as minutes of the day."""
    first, after = ((int(part[:2]) * 60 + int(part[3:])) for part in text.split("-"))
    return first, after
