"""Instants and stretches of time as people write them, local."""

import datetime as dt
from zoneinfo import ZoneInfo

from server.telling.numbers import GAP
from shared.zones import from_us

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


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
    return f"{day_name(moment.date())} {MONTHS[moment.month - 1][:3]}{year}, {clock(moment)}"


def stretch_words(start_us: int, end_us: int, zone: ZoneInfo) -> str:
    """`Tue 17 Nov, 19:15 to 20:15`."""
    start, end = from_us(start_us, zone), from_us(end_us, zone)
    opening = f"{day_name(start.date())} {MONTHS[start.month - 1][:3]}, {clock(start)}"
    if start.date() == end.date():
        return f"{opening}{GAP}to{GAP}{clock(end)}"  # the two times stay on one line
    return f"{opening} to {day_name(end.date())} {MONTHS[end.month - 1][:3]}, {clock(end)}"
