"""What the Explore page calls its spans."""

from zoneinfo import ZoneInfo

from server.analytics.local_spans import By
from server.telling.moments import MONTHS, clock, day_name
from shared.zones import from_us


def span_label(start_us: int, by: By, zone: ZoneInfo) -> str:
    """`Mon 16 Nov 2026`, `Mon 16 Nov, 19:00`, `November 2026`."""
    moment = from_us(start_us, zone)
    if by == "month":
        return f"{MONTHS[moment.month - 1]} {moment.year}"
    day = f"{day_name(moment.date())} {MONTHS[moment.month - 1][:3]}"
    return f"{day}, {clock(moment)}" if by == "hour" else f"{day} {moment.year}"


def stretch_label(start_us: int, end_us: int, zone: ZoneInfo) -> str:
    """From when until when, both to the minute."""
    start, end = (from_us(us, zone) for us in (start_us, end_us))
    said = [f"{day_name(at.date())} {MONTHS[at.month - 1][:3]} {at.year}, {clock(at)}" for at in (start, end)]
    return " to ".join(said)
