"""Instants are integers: microseconds since 1970 UTC. This is the edge where they meet a local calendar."""

import datetime as dt
import re
from zoneinfo import ZoneInfo

SECOND = 1_000_000
HOUR = 3600 * SECOND
DAY = 24 * HOUR
EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


def to_us(moment: dt.datetime) -> int:
    """Microseconds since 1970 UTC of an aware datetime."""
    return (moment - EPOCH) // dt.timedelta(microseconds=1)


def from_us(us: int, zone: dt.tzinfo = dt.UTC) -> dt.datetime:
    """The aware datetime of an instant, in `zone`."""
    return (EPOCH + dt.timedelta(microseconds=int(us))).astimezone(zone)


def iso(us: int, zone: dt.tzinfo = dt.UTC) -> str:
    """RFC 3339 text of an instant with the offset that `zone` has then."""
    return from_us(us, zone).isoformat()


def midnight(day: dt.date, zone: dt.tzinfo) -> int:
    """The instant at which a local day begins."""
    return to_us(dt.datetime(day.year, day.month, day.day, tzinfo=zone))


def local_days(start: int, end: int, zone: ZoneInfo) -> list[tuple[dt.date, int, int]]:
    """The local days that lie whole in [start, end): (date, first instant, instant after the last); 23 to 25 hours
    each.
    """
    day = from_us(start, zone).date()
    days: list[tuple[dt.date, int, int]] = []
    while True:
        first, after = midnight(day, zone), midnight(day + dt.timedelta(days=1), zone)
        if after > end:
            return days
        if start <= first < after:  # a date that the zone skips has no length, and is no day
            days.append((day, first, after))
        day += dt.timedelta(days=1)


def week_window(text: str, zone: ZoneInfo) -> tuple[int, int]:
    """[start, end) of an ISO 8601 week (from memory; Python's own calendar reads it) such as 2026-W47. Raises
    ValueError.
    """
    match = re.fullmatch(r"(\d{4})-W(\d{2})", text)
    if not match:
        raise ValueError(f"{text!r} is not a week such as 2026-W47")
    monday = dt.date.fromisocalendar(int(match[1]), int(match[2]), 1)
    return midnight(monday, zone), midnight(monday + dt.timedelta(days=7), zone)


def month_window(text: str, zone: ZoneInfo) -> tuple[int, int]:
    """[start, end) of a month such as 2026-10. Raises ValueError."""
    match = re.fullmatch(r"(\d{4})-(\d{2})", text)
    if not match:
        raise ValueError(f"{text!r} is not a month such as 2026-10")
    first = dt.date(int(match[1]), int(match[2]), 1)
    after = dt.date(first.year + first.month // 12, first.month % 12 + 1, 1)
    return midnight(first, zone), midnight(after, zone)


def instant(text: str, zone: ZoneInfo) -> int:
    """The instant of a date (its local midnight) or a date-time, local or with offset. Raises ValueError."""
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        return midnight(dt.date.fromisoformat(text), zone)
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is no date and no date-time") from None
    if moment.tzinfo:
        return to_us(moment)
    here = moment.replace(tzinfo=zone)
    if here.astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None) != moment:
        raise ValueError(f"{text} does not exist in {zone.key}: the clocks go forward over it")
    return to_us(here)
