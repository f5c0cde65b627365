"""What an address of Explore asks for: a stretch, a measure, and how many weeks earlier it is compared with."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from server.analytics.activity import Window
from server.analytics.explored import beside, shifted, step_of, wall
from server.analytics.local_spans import By, local_spans
from server.telling.explored import MEASURES, Measure
from server.web.source import Source
from server.web.weeks import first_shown
from shared.errors import UnusableError
from shared.windows import named_instant
from shared.zones import DAY, HOUR, from_us, iso, midnight, to_us

WEEKS = 13
MOST_DAYS_OF_OVERS = 400
MOST_DAYS, MOST_BACK = 3660, 520
STRETCH = ("from", "to")
SECOND_STRETCH = ("from2", "to2")
Query = Mapping[str, str]


@dataclass(frozen=True)
class Asked:
    """One look; the stretch begins and ends with a local clock hour."""

    window: Window
    measure: Measure
    back: int  #: weeks; 0: no comparison
    zone: ZoneInfo
    second: Window | None = None  #: a stretch of its own that it is compared with, in place of so many weeks back

    @property
    def by(self) -> By:
        return step_of(self.window)

    @property
    def spans(self) -> list[Window]:
        return local_spans(*self.window, self.by, self.zone)

    @property
    def overs_refused(self) -> str:
        """Why its overs are not given one by one; else empty."""
        if self.window[1] - self.window[0] <= MOST_DAYS_OF_OVERS * DAY:
            return ""
        return f"Overs are given of {MOST_DAYS_OF_OVERS} days at most: choose fewer, or use `airtally overs`."

    @property
    def compared(self) -> bool:
        return self.second is not None or self.back > 0

    @property
    def before(self) -> list[Window]:
        """The second stretch in these steps, or the same local times `back` weeks earlier; else empty."""
        if self.second:
            return beside(self.spans, self.second, self.zone)
        return shifted(self.spans, self.back, self.zone) if self.back else []

    def query(self, window: Window | None = None, back: int | None = None) -> str:
        """For the address that shows the same again, or another stretch."""
        start, end = window or self.window
        second = self._beside(window) if window else self.second
        asked = {
            "from": iso(start, self.zone),
            "to": iso(end, self.zone),
            "measure": self.measure.name,
            "back": str(self.back if back is None else back),
        }
        if second:
            asked |= {name: iso(us, self.zone) for name, us in zip(SECOND_STRETCH, second, strict=True)}
        return urlencode(asked)

    def _beside(self, window: Window) -> Window | None:
        """A second stretch for another first one, as far from it by the local clock as it is now."""
        if not self.second:
            return None
        by = wall(self.window[0], self.zone) - wall(self.second[0], self.zone)
        start, end = (to_us((wall(us, self.zone) - by).replace(tzinfo=self.zone)) for us in window)
        return (start, end) if start < end else None

    def moved(self, steps: float) -> Window:
        """As long a stretch, so many of its lengths later; of a day and more by the local clock, so that midnights
        stay midnights.
        """
        start, end = self.window
        if end - start < DAY - HOUR:
            by = round((end - start) * steps / HOUR) * HOUR
            return start + by, end + by
        walls = [wall(us, self.zone) for us in self.window]
        later = dt.timedelta(hours=round((walls[1] - walls[0]) * steps / dt.timedelta(hours=1)))
        first, after = (to_us((one + later).replace(tzinfo=self.zone)) for one in walls)
        return first, after

    def wider(self) -> Window:
        """Twice as long, around the same middle."""
        start, end = self.window
        more = max(HOUR, (end - start) // 2 // HOUR * HOUR)
        return start - more, end + more


def asked_of(query: Query, source: Source) -> Asked:
    """What a query asks for; without a stretch the thirteen weeks up to the last whole one. UnusableError, with one
    sentence, where it can't be used.
    """
    zone = source.station().zone
    measure = MEASURES.get(query.get("measure") or "airtime")
    if measure is None:
        raise UnusableError(f"Choose what to look at from the list: {', '.join(MEASURES)}.")
    window = _window(query, zone, STRETCH) or usual(source)
    second = _window(query, zone, SECOND_STRETCH)
    return Asked(window, measure, _weeks(query.get("back") or "0"), zone, second)


def usual(source: Source) -> Window:
    """The thirteen weeks up to the last whole one, as far as the log reaches back."""
    known, zone = source.first_and_last(), source.station().zone
    week = first_shown(known, source.now(), zone)
    start = week.shifted(1 - WEEKS).start_us
    return start if known is None else max(start, midnight(from_us(known[0], zone).date(), zone)), week.end_us


def _window(query: Query, zone: ZoneInfo, names: tuple[str, str]) -> Window | None:
    if not any(map(query.get, names)):
        return None
    start, end = (named_instant(query.get(name, ""), zone) for name in names)
    start, end = _hour_before(start, zone), -_hour_before(-end, zone)
    if end <= start:
        raise UnusableError("The stretch ends before it begins: change one of the two.")
    if end - start > MOST_DAYS * DAY:
        raise UnusableError(f"That is more than {MOST_DAYS:,} days: choose fewer.")
    return start, end


def _hour_before(us: int, zone: ZoneInfo) -> int:
    """The local clock hour that an instant lies in; of a negative one the hour after, negative."""
    offset = from_us(abs(us), zone).utcoffset()
    past = (int(offset.total_seconds()) if offset else 0) % 3600 * 1_000_000
    past = past if us >= 0 else -past
    return (us + past) // HOUR * HOUR - past


def _weeks(text: str) -> int:
    if not text.isascii() or not text.isdecimal() or not 0 <= int(text[:5]) <= MOST_BACK:
        raise UnusableError(f"Compare with a stretch that lies 0 to {MOST_BACK} weeks before.")
    return int(text[:5])
