"""From where to where the log of a report reaches."""

import sqlalchemy as sa

from server.store import schema
from server.store.lines import line_stamps
from shared.zones import DAY, HOUR


def first_and_last(connection: sa.Connection, end: int) -> tuple[int, int] | None:
    """The instants of the first and the last line of any log, as far as a day after a month's end: what later lines
    say, or lines of a clock that was wrong, does not change a report.
    """
    hour = schema.line_hour.c.hour
    latest = end + DAY
    first, last = connection.execute(sa.select(sa.func.min(hour), sa.func.max(hour)).where(hour <= latest)).one()
    if first is None:
        return None
    return int(line_stamps(connection, first, first + HOUR)[0]), int(line_stamps(connection, last, last + HOUR)[-1])
