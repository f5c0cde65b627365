"""ISO weeks in the repeater's zone, and instants as people write them."""

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.web.words import GAP
from shared.zones import HOUR, SECOND, from_us, midnight

WELL_INSIDE = 6 * HOUR  # a repeater that writes no heartbeats is silent for a night

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


@dataclass(frozen=True)
class Week:
    """One ISO 8601 week, Monday to Sunday."""

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
            opening += f" {_MONTHS[first.month - 1]}"
        if first.year != last.year:
            opening += f" {first.year}"
        return f"{opening} to {last.day} {_MONTHS[last.month - 1]} {last.year}"

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
    """The last whole week with data; the week so far, where the first data is of this week; the last whole week where there is none."""
    if known is None:
        return week_of(now_us, zone).shifted(-1)
    week, first = last_whole_week(known[1], now_us, zone), week_of(known[0], zone)
    return first if week.monday < first.monday else week


def day_name(day: dt.date) -> str:
    """`Mon 16`."""
    return f"{_DAYS[day.weekday()]} {day.day}"


def clock(moment: dt.datetime) -> str:
    """`19:15`; in the hour that a clock change repeats, with the zone's abbreviation."""
    text = f"{moment:%H:%M}"
    twice = moment.replace(fold=0).utcoffset() != moment.replace(fold=1).utcoffset()
    return f"{text} {moment.tzname()}" if twice else text


def instant_words(us: int, zone: ZoneInfo, with_year: bool = False) -> str:
    """`Tue 17 Nov, 19:15`."""
    moment = from_us(us, zone)
    year = f" {moment.year}" if with_year else ""
    return f"{day_name(moment.date())} {_MONTHS[moment.month - 1][:3]}{year}, {clock(moment)}"


def stretch_words(start: dt.datetime, end: dt.datetime, zone: ZoneInfo) -> str:
    """`Tue 17 Nov, 19:15 to 20:15`."""
    start, end = start.astimezone(zone), end.astimezone(zone)
    opening = f"{day_name(start.date())} {_MONTHS[start.month - 1][:3]}, {clock(start)}"
    if start.date() == end.date():
        return f"{opening}{GAP}to{GAP}{clock(end)}"  # the two times stay on one line
    return f"{opening} to {day_name(end.date())} {_MONTHS[end.month - 1][:3]}, {clock(end)}"


def edges_words(known: tuple[int, int] | None, start: int, end: int, zone: ZoneInfo, *, blind_s: float, over: bool) -> str:
    """Where the log begins or stops well inside [start, end), and what that does to shares; empty where it covers the days. By definition time
    outside the log is blind only where `quiet_log_s` is set, which `blind_s` tells; a log is not said to stop before the days are `over`."""
    if known is None:
        return ""
    first, last = known
    said, outside = [], 0
    if start + WELL_INSIDE < first < end:
        said.append(f"begins on {instant_words(first, zone)}")
        outside += first - start
    if over and start < last < end - WELL_INSIDE:
        said.append(f"stops on {instant_words(last, zone)}")
        outside += end - last
    if not said:
        return ""
    blind = round(blind_s * SECOND) >= outside
    return f"The log {' and '.join(said)}: {'the rest counts as blind time and is left out of the percentages' if blind else 'percentages are of all these days'}."
