"""ISO weeks in the repeater's zone, and instants as people write them."""

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.telling.moments import MONTHS, clock, day_name, instant_words, stretch_words
from shared.zones import HOUR, SECOND, from_us, midnight

__all__ = [
    "Week",
    "clock",
    "day_name",
    "edges_words",
    "first_shown",
    "instant_words",
    "last_whole_week",
    "stretch_words",
    "week_of",
]

FEW_MINUTES = 300 * SECOND  # what a log that comes in may be behind
WELL_INSIDE = 6 * HOUR  # a repeater that writes no heartbeats is silent for a night


@dataclass(frozen=True)
class Week:
    """One ISO 8601 week (from memory; tests hold it to pandas), Monday to Sunday."""

    monday: dt.date
    zone: ZoneInfo

    @property
    def name(self) -> str:
        """As in addresses: 2026-W47."""
        year, week, _ = self.monday.isocalendar()
        return f"{year:04d}-W{week:02d}"

    @property
    def number(self) -> int:
        return self.monday.isocalendar().week

    @property
    def start_us(self) -> int:
        return midnight(self.monday, self.zone)

    @property
    def end_us(self) -> int:
        return midnight(self.monday + dt.timedelta(days=7), self.zone)

    @property
    def days(self) -> tuple[dt.date, ...]:
        return tuple(self.monday + dt.timedelta(days=n) for n in range(7))

    @property
    def dates(self) -> str:
        """`16 to 22 November 2026`, with month and year where they differ."""
        first, last = self.days[0], self.days[-1]
        opening = str(first.day)
        if (first.year, first.month) != (last.year, last.month):
            opening += f" {MONTHS[first.month - 1]}"
        if first.year != last.year:
            opening += f" {first.year}"
        return f"{opening} to {last.day} {MONTHS[last.month - 1]} {last.year}"

    def shifted(self, weeks: int) -> "Week":
        return Week(self.monday + dt.timedelta(weeks=weeks), self.zone)


def week_of(us: int, zone: ZoneInfo) -> Week:
    """The week that holds an instant."""
    day = from_us(us, zone).date()
    return Week(day - dt.timedelta(days=day.weekday()), zone)


def last_whole_week(last_us: int, now_us: int, zone: ZoneInfo) -> Week:
    """The latest week that is over and has data in it (or before its end)."""
    over = week_of(now_us, zone).shifted(-1)
    seen = week_of(last_us, zone)
    return seen if seen.monday < over.monday else over


def first_shown(known: tuple[int, int] | None, now_us: int, zone: ZoneInfo) -> Week:
    """The last whole week with data; the week so far, where the first data is of this week; the last whole week where
    there is none.
    """
    if known is None:
        return week_of(now_us, zone).shifted(-1)
    week, first = last_whole_week(known[1], now_us, zone), week_of(known[0], zone)
    return first if week.monday < first.monday else week


def edges_words(known: tuple[int, int] | None, start: int, end: int, zone: ZoneInfo, *, over: bool) -> str:
    """Where the log begins or stops well inside [start, end), and what that does to shares; empty where it covers the
    days. Before the days are `over`, `end` is now: a log does not stop, and what came since its last line is not known.
    """
    if known is None:
        return ""
    first, last = known
    said = []
    if start + WELL_INSIDE < first < end:
        said.append(f"begins on {instant_words(first, zone)}")
    if over and start < last < end - WELL_INSIDE:
        said.append(f"stops on {instant_words(last, zone)}")
    since = ""
    if not over and last < end - FEW_MINUTES:
        since = f"The last line is of {instant_words(last, zone)}: what happened since then is not known."
    if not said:
        return since
    rest = f"The log {' and '.join(said)}: the rest counts as blind time and is left out of the percentages."
    return f"{rest} {since}".strip()
