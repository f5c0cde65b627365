"""From where to where the log of a report reaches."""

from zoneinfo import ZoneInfo

from server.store.engine import Connection
from server.store.lines import first_and_last_line
from server.telling.moments import instant_words
from server.telling.unread import nothing_read_yet
from shared.zones import DAY


def first_and_last(connection: Connection, end: int) -> tuple[int, int] | None:
    """The instants of the first and the last line of any log, as far as a day after a month's end: what later lines
    say, or lines of a clock that was wrong, does not change a report.
    """
    return first_and_last_line(connection, end + DAY)


def not_seen(known: tuple[int, int] | None, window: tuple[int, int], zone: ZoneInfo, lines: int = 0) -> str | None:
    """Why there is no report of a window in which no line lies, and what is known instead; None where there is one."""
    why = "no log tells of this month, so that there is nothing to report."
    if known is None:
        return f"{why} {nothing_read_yet(lines)}"
    if known[1] < window[0] or known[0] >= window[1]:
        first, last = (instant_words(us, zone, with_year=True) for us in known)
        return f"{why} The log runs from {first} to {last}."
    return None
