"""Hour tallies: figures that add up, kept by hour and mode."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import sqlalchemy as sa

from server.store.rows import rows_of
from server.store.schema import tally
from shared.zones import HOUR

if TYPE_CHECKING:
    import polars as pl

SUMS = (
    "airtime_us",
    "keyed_us",
    "idle_hold_us",
    "held_us",
    "overs",
    "timeouts",
    "timeouts_estimated",
    "near_timeouts",
    "shut_outs",
    "unfinished",
    "seen_us",
)
GREATEST = ("duty_6_us", "duty_30_us", "duty_60_us")  #: of a stretch the greatest of its hours


def tallied_sums(connection: sa.Connection, start: int, end: int) -> dict[str, dict[str, int]]:
    """The sums of the hours that begin in [start, end), by mode word ('' the channel)."""
    query = sa.select(tally.c.mode, *(sa.func.coalesce(sa.func.sum(tally.c[name]), 0) for name in SUMS))
    rows = connection.execute(query.where(*_begin_in(start, end)).group_by(tally.c.mode))
    return {row[0]: dict(zip(SUMS, map(int, row[1:]), strict=True)) for row in rows}


def tallied_spans(
    connection: sa.Connection, spans: Sequence[tuple[int, int]]
) -> list[tuple[int, str, tuple[int, ...]]]:
    """SUMS and GREATEST of the hours that begin in each span, by place of the span and mode word ('' the channel)."""
    if not spans:
        return []
    columns = (sa.column("place", sa.Integer), sa.column("first", sa.BigInteger), sa.column("after", sa.BigInteger))
    rows = [(place, first, after) for place, (first, after) in enumerate(spans)]
    asked = sa.values(*columns, name="asked").data(rows).cte("spans")
    sums = (sa.func.coalesce(sa.func.sum(tally.c[name]), 0) for name in SUMS)
    most = (sa.func.coalesce(sa.func.max(tally.c[name]), 0) for name in GREATEST)
    joined = asked.join(tally, sa.and_(tally.c.hour >= asked.c.first, tally.c.hour < asked.c.after))
    query = (
        sa.select(asked.c.place, tally.c.mode, *sums, *most).select_from(joined).group_by(asked.c.place, tally.c.mode)
    )
    return [(row[0], row[1], tuple(map(int, row[2:]))) for row in connection.execute(query)]


def channel_by_hour(connection: sa.Connection, start: int, end: int, name: str) -> list[tuple[int, int, int]]:
    """Hour, one of SUMS or GREATEST and the seen time of each hour of [start, end), of the channel, in order."""
    query = sa.select(tally.c.hour, tally.c[name], tally.c.seen_us).where(tally.c.mode == "", *_begin_in(start, end))
    return [(hour, value or 0, seen or 0) for hour, value, seen in rows_of(connection, query.order_by(tally.c.hour))]


def airtime_overs_and_seen(connection: sa.Connection, start: int, end: int) -> dict[str, tuple[int, int, int]]:
    """Airtime (microseconds), overs and (of the channel) seen time (microseconds) of [start, end) by mode word, from
    tallies that are there.
    """
    query = sa.select(
        tally.c.mode,
        sa.func.sum(tally.c.airtime_us),
        sa.func.sum(tally.c.overs),
        sa.func.coalesce(sa.func.sum(tally.c.seen_us), 0),
    ).where(*_begin_in(start, end))
    return {
        mode: (int(airtime), int(overs), int(seen))
        for mode, airtime, overs, seen in connection.execute(query.group_by(tally.c.mode))
    }


def count_tallied(connection: sa.Connection, start: int, end: int) -> int:
    """How many hours of [start, end) are tallied."""
    query = sa.select(sa.func.count()).where(tally.c.mode == "", *_begin_in(start, end))
    return connection.execute(query).scalar_one()


def tallied_hours(connection: sa.Connection, start: int, end: int) -> list[int]:
    """The hours of [start, end) that are tallied."""
    query = sa.select(tally.c.hour).where(tally.c.mode == "", *_begin_in(start, end))
    return list(connection.execute(query).scalars())


def put_tallies(connection: sa.Connection, first: int, after: int, frame: "pl.DataFrame") -> None:
    """Keep the tallies of [first, after) in place of what was there; the frame's columns are the table's."""
    from server.store.frames import insert_frame  # here, as frames take long to import and are seldom wanted

    drop_tallies(connection, first, after)
    insert_frame(connection, tally, frame)


def drop_tallies(connection: sa.Connection, start: int, end: int) -> None:
    """Drop those of the hours that begin in [start, end)."""
    connection.execute(sa.delete(tally).where(*_begin_in(start, end)))


def drop_all_tallies(connection: sa.Connection) -> None:
    """All are to be made anew."""
    connection.execute(sa.delete(tally))


def forget_tallies(connection: sa.Connection, first_us: int, last_us: int) -> None:
    """Drop the tallies of the hours that rows between two instants can change: holds and tails reach an hour at
    most.
    """
    hour = tally.c.hour
    connection.execute(sa.delete(tally).where(hour > first_us - 3 * HOUR, hour < last_us + 2 * HOUR))


def _begin_in(start: int, end: int) -> tuple[sa.ColumnElement[bool], sa.ColumnElement[bool]]:
    return tally.c.hour >= start, tally.c.hour < end
