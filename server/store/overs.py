"""Overs: those that ended, those that never did, and those that are open now."""

from collections.abc import Iterator, Sequence
from typing import Any

import sqlalchemy as sa

from server.store import schema
from server.store.facts import read_longest
from server.store.rows import columns_of

OVERS = ("start", "end", "until", "mode", "slot", "side", "station", "target", "cause", "doubtful")
OPEN_OVERS = ("start", "until", "mode")
LINK_OVERS = ("start", "end", "mode", "target", "loss_pct")
LEVELS = ("start", "mode", "station", "rssi_dbm", "ber_pct")
WHO = ("mode", "slot", "side", "station")


def overs_reaching_into(connection: sa.Connection, low: int, high: int) -> dict[str, Sequence[Any]]:
    """The columns OVERS of what began before `high` and may reach beyond `low`, in order of start."""
    over = schema.over
    wanted = sa.select(*(over.c[name] for name in OVERS)).where(
        over.c.start >= low - read_longest(connection), over.c.start < high
    )
    return columns_of(connection, wanted.order_by(over.c.start, over.c.id), OVERS)


def link_overs_reaching_into(connection: sa.Connection, low: int, high: int) -> dict[str, Sequence[Any]]:
    """The columns LINK_OVERS of what came over a link, began before `high` and ended after `low`, in order of start."""
    over = schema.over
    wanted = sa.select(*(over.c[name] for name in LINK_OVERS)).where(
        over.c.start >= low - read_longest(connection), over.c.start < high, over.c.end > low, over.c.side == "link"
    )
    return columns_of(connection, wanted.order_by(over.c.start, over.c.id), LINK_OVERS)


def levels_of_overs(connection: sa.Connection, start: int, end: int) -> dict[str, Sequence[Any]]:
    """The columns LEVELS of the finished overs received by radio that begin in [start, end), of known mode and station,
    and tell their level or their errors.
    """
    over = schema.over
    measured = over.c.rssi_dbm.is_not(None) | over.c.ber_pct.is_not(None)
    wanted = sa.select(*(over.c[name] for name in LEVELS)).where(
        over.c.start >= start, over.c.start < end, over.c.end.is_not(None), over.c.side == "air",
        over.c.mode.is_not(None), over.c.station.is_not(None), measured,
    )  # fmt: skip
    return columns_of(connection, wanted, LEVELS)


def count_heard(connection: sa.Connection, start: int, end: int) -> tuple[int, int]:
    """How many finished overs received by radio begin in [start, end), and how many of them tell their level or their
    errors.
    """
    over = schema.over
    has_level = sa.case((over.c.rssi_dbm.is_not(None) | over.c.ber_pct.is_not(None), 1))
    counted = sa.select(sa.func.count(), sa.func.count(has_level)).where(
        over.c.start >= start, over.c.start < end, over.c.end.is_not(None), over.c.side == "air"
    )
    every, measured = connection.execute(counted).one()
    return every, measured


def sum_of_levels(connection: sa.Connection, start: int, end: int) -> tuple[int, float, float, int]:
    """What changes whenever the levels of [start, end) do, far quicker than reading them: how many there are, and sums
    over them.
    """
    over = schema.over
    total = sa.func.total if connection.dialect.name == "sqlite" else sa.func.sum
    summed = sa.select(sa.func.count(), total(over.c.rssi_dbm), total(over.c.ber_pct), sa.func.max(over.c.id)).where(
        over.c.start >= start, over.c.start < end, over.c.end.is_not(None), over.c.side == "air"
    )
    return tuple(connection.execute(summed).one())


def open_overs(connection: sa.Connection, low: int, high: int) -> dict[str, Sequence[Any]]:
    """The columns OPEN_OVERS of what began in [low, high) and has not ended."""
    opened = schema.open_over
    wanted = sa.select(*(opened.c[name] for name in OPEN_OVERS))
    return columns_of(connection, wanted.where(opened.c.start >= low, opened.c.start < high), OPEN_OVERS)


def count_doubtful(connection: sa.Connection, start: int, end: int) -> int:
    """Doubtful overs that begin in [start, end)."""
    over = schema.over
    counted = sa.select(sa.func.count()).where(over.c.start >= start, over.c.start < end, over.c.doubtful)
    return connection.execute(counted).scalar_one()


#: start, end, when the end was written, whether it was written at its end only, whether its end is lost, whether its
#: length is known, mode, slot, side, station.
OnAir = Sequence[Any]


def overs_on_air(connection: sa.Connection, low: int, high: int, lost_since: int) -> list[OnAir]:
    """What was on the air in [low, high), or ended before `low` and was told of later: finished overs in order, then
    those whose end is lost, with the next event on their key for an end; of these only what began after `lost_since`.
    """
    over = schema.over
    ended = sa.func.coalesce(over.c.end, over.c.until)
    columns = (over.c.start, ended, sa.func.coalesce(over.c.until, over.c.end), over.c.whole)
    texts = [over.c[name] for name in WHO]
    finished = sa.select(*columns, sa.false(), sa.true(), *texts).where(
        over.c.start >= low - read_longest(connection), over.c.start < high, over.c.end >= low
    )
    written_late = sa.select(*columns, sa.false(), sa.true(), *texts).where(
        over.c.end < low, over.c.until >= low, over.c.start < high
    )
    # An end line more than a day after its start tells no length, but it ends what was raised over it: such an over is
    # not lost.
    unfinished = sa.select(*columns, ~over.c.doubtful, sa.false(), *texts).where(
        over.c.end.is_(None), over.c.until >= low, over.c.start < high, over.c.start >= lost_since
    )
    return [
        *connection.execute(finished.order_by(over.c.start, over.c.id)),
        *connection.execute(written_late),
        *connection.execute(unfinished),
    ]


def open_overs_on_air(connection: sa.Connection, high: int, never: int) -> list[OnAir]:
    """What began before `high` and is on the air still, but for files that stand apart; `never` is the end of what was
    not displaced.
    """
    held = schema.open_over
    query = sa.select(
        held.c.start,
        sa.func.coalesce(held.c.until, never),
        sa.func.coalesce(held.c.until, never),
        sa.false(),
        sa.true(),
        sa.false(),
        *(held.c[name] for name in WHO),
    )
    return list(connection.execute(query.where(held.c.file_id.is_(None), held.c.start < high)))


def finished_overs(connection: sa.Connection, start: int, end: int) -> Iterator[dict[str, Any]]:
    """The columns of the overs that begin in [start, end) and have ended, one over after another."""
    over = schema.over
    wanted = sa.select(over).where(over.c.start >= start, over.c.start < end, over.c.end.is_not(None))
    for row in connection.execute(wanted.order_by(over.c.start, over.c.id)):
        yield row._asdict()


def longest_over(connection: sa.Connection, start: int, end: int) -> tuple[str | None, int, int] | None:
    """Mode, start and length (microseconds) of the longest over that begins in [start, end) and has ended."""
    over = schema.over
    length = over.c.end - over.c.start
    query = sa.select(over.c.mode, over.c.start, length).where(
        over.c.start >= start, over.c.start < end, over.c.end.is_not(None)
    )
    row = connection.execute(query.order_by(length.desc(), over.c.start).limit(1)).first()
    return None if row is None else (row[0], row[1], row[2])
