"""Instants and stretches of time as people write them, local."""

import datetime as dt
from zoneinfo import ZoneInfo

from server.telling.numbers import GAP
from shared.zones import HOUR, SECOND, from_us, to_us

UTC = ZoneInfo("UTC")
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
FEW_MINUTES = 300 * SECOND  # what a log that comes in may be behind
WELL_INSIDE = 6 * HOUR  # a repeater that writes no heartbeats is silent for a night


def day_name(day: dt.date) -> str:
    """`Mon 16`."""
    return f"{_DAYS[day.weekday()]} {day.day}"


def weekday_words(moment: dt.datetime) -> str:
    """`a Monday at 19:15`."""
    return f"a {WEEKDAYS[moment.weekday()]} at {clock(moment)}"


def clock(moment: dt.datetime) -> str:
    """`19:15`; in the hour that a clock change repeats, with the zone's abbreviation."""
    text = f"{moment:%H:%M}"
    twice = moment.replace(fold=0).utcoffset() != moment.replace(fold=1).utcoffset()
    return f"{text} {moment.tzname()}" if twice else text


def clock_seconds(us: int, zone: ZoneInfo) -> str:
    """`19:15:07`; in the hour that a clock change repeats, with the zone's abbreviation."""
    moment = from_us(us, zone)
    return f"{moment:%H:%M:%S}" + (f" {moment.tzname()}" if other_instant(us, zone) is not None else "")


def other_instant(us: int, zone: ZoneInfo) -> int | None:
    """The other instant of the same local time, where a clock change repeats it."""
    moment = from_us(us, zone)
    first, second = (to_us(moment.replace(fold=fold)) for fold in (0, 1))
    return None if first == second else second if us == first else first


def day_words(us: int, zone: ZoneInfo) -> str:
    """`Tue 17 Nov 2026`."""
    moment = from_us(us, zone)
    return f"{day_name(moment.date())} {MONTHS[moment.month - 1][:3]} {moment.year}"


def instant_words(us: int, zone: ZoneInfo, with_year: bool = False) -> str:
    """`Tue 17 Nov, 19:15`."""
    moment = from_us(us, zone)
    year = f" {moment.year}" if with_year else ""
    return f"{day_name(moment.date())} {MONTHS[moment.month - 1][:3]}{year}, {clock(moment)}"


def listed_instant(us: int, zone: ZoneInfo) -> str:
    """`2026-11-17 19:15`, for the first column of a list on a terminal."""
    return f"{from_us(us, zone):%Y-%m-%d %H:%M}"


def listed_second(us: int, zone: ZoneInfo = UTC) -> str:
    """`2026-11-17 19:15:07`, likewise."""
    return f"{from_us(us, zone):%Y-%m-%d %H:%M:%S}"


def month_words(day: dt.date) -> str:
    """`November 2026`."""
    return f"{MONTHS[day.month - 1]} {day.year}"


def date_words(day: dt.date) -> str:
    """`17 November 2026`."""
    return f"{day.day} {month_words(day)}"


def dates_words(first: dt.date, last: dt.date) -> str:
    """`2 to 29 November 2026`, with month and year where they differ."""
    if first == last:
        return date_words(last)
    opening = str(first.day)
    if (first.year, first.month) != (last.year, last.month):
        opening += f" {MONTHS[first.month - 1]}"
    if first.year != last.year:
        opening += f" {first.year}"
    return f"{opening} to {date_words(last)}"


def clock_of(us: int, zone: ZoneInfo) -> str:
    """`19:15`, local."""
    return clock(from_us(us, zone))


def to_the_second(us: int, zone: ZoneInfo) -> str:
    """`03:13:10 on Wed 18 Nov 2026`: an instant that a log is searched for."""
    moment = from_us(us, zone)
    return f"{moment:%H:%M:%S} on {day_name(moment.date())} {MONTHS[moment.month - 1][:3]} {moment.year}"


def stretch_words(start_us: int, end_us: int, zone: ZoneInfo) -> str:
    """`Tue 17 Nov, 19:15 to 20:15`."""
    start, end = from_us(start_us, zone), from_us(end_us, zone)
    opening = f"{day_name(start.date())} {MONTHS[start.month - 1][:3]}, {clock(start)}"
    if start.date() == end.date():
        return f"{opening}{GAP}to{GAP}{clock(end)}"  # the two times stay on one line
    return f"{opening} to {day_name(end.date())} {MONTHS[end.month - 1][:3]}, {clock(end)}"


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
