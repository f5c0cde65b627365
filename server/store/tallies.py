"""Hour tallies: figures that add up, kept by hour and mode."""

import sqlalchemy as sa

from server.store import schema
from shared.zones import HOUR


def forget_tallies(connection: sa.Connection, first_us: int, last_us: int) -> None:
    """Drop the tallies of the hours that rows between two instants can change: holds and tails reach an hour at most."""
    hour = schema.tally.c.hour
    connection.execute(sa.delete(schema.tally).where(hour > first_us - 3 * HOUR, hour < last_us + 2 * HOUR))
