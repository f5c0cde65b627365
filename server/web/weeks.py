"""ISO weeks in the repeater's zone."""

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.telling.moments import MONTHS
from shared.zones import from_us, midnight


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
