"""From where to where the log of a report reaches."""

from server.store.engine import Connection
from server.store.lines import first_and_last_line
from shared.zones import DAY


def first_and_last(connection: Connection, end: int) -> tuple[int, int] | None:
    """The instants of the first and the last line of any log, as far as a day after a month's end: what later lines
    say, or lines of a clock that was wrong, does not change a report.
    """
    return first_and_last_line(connection, end + DAY)
