"""The window that a person names: two instants, a week or a month; and the instant."""

import datetime as dt
from zoneinfo import ZoneInfo

from shared.errors import UnusableError
from shared.zones import instant, month_window, to_us, week_window

#: Beyond these there is nothing to look for, and calendars of local days end.
EARLIEST, LATEST = (to_us(dt.datetime(year, 1, 1, tzinfo=dt.UTC)) for year in (1900, 2201))
AS_OPTIONS = "Name one window: --from D --to D, or --week 2026-W47, or --month 2026-10."
AS_QUERY = "Name one window: from=D&to=D, or week=2026-W47, or month=2026-10."


def named_instant(text: str, zone: ZoneInfo) -> int:
    """A date-time, local or with offset, or a date (its local midnight). Raises UnusableError."""
    looks = "moments look like 2026-11-17T20:15 or 2026-11-17T20:15:00+00:00"
    try:
        at_us = instant(text, zone)
    except (ValueError, OverflowError) as error:
        raise UnusableError(f"That is no moment: {error}; {looks}.") from error
    if not EARLIEST <= at_us < LATEST:
        raise UnusableError(f"That is no moment: no log reaches beyond the years 1900 to 2200; {looks}.")
    return at_us


def named_window(
    zone: ZoneInfo,
    from_text: str | None,
    to_text: str | None,
    week: str | None,
    month: str | None,
    name_one: str = AS_OPTIONS,
) -> tuple[int, int]:
    """[start, end) in microseconds UTC. Raises UnusableError, which says `name_one` where none or two are named."""
    given = [bool(from_text or to_text), bool(week), bool(month)]
    if sum(given) != 1 or bool(from_text) != bool(to_text):
        raise UnusableError(name_one)
    try:
        start, end = _window(zone, from_text or "", to_text or "", week, month)
    except (ValueError, OverflowError) as error:
        raise UnusableError(f"That is no window: {error}; {_looks(week, month)}.") from error
    if end <= start:
        raise UnusableError(f"The window ends ({to_text}) before it begins ({from_text}).")
    if start < EARLIEST or end > LATEST:
        raise UnusableError(
            "That is no window: no log reaches beyond the years 1900 to 2200; "
            "dates look like 2026-11-16 or 2026-11-16T18:00."
        )
    return start, end


def _window(zone: ZoneInfo, from_text: str, to_text: str, week: str | None, month: str | None) -> tuple[int, int]:
    """Raises ValueError, OverflowError."""
    if week:
        return week_window(week.upper(), zone)
    if month:
        return month_window(month, zone)
    return instant(from_text, zone), instant(to_text, zone)


def _looks(week: str | None, month: str | None) -> str:
    if week:
        return "weeks look like 2026-W47"
    return "months look like 2026-10" if month else "dates look like 2026-11-16 or 2026-11-16T18:00"
