"""Overs: those that ended, those that never did, and those that are open now."""

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa

from server.store import schema
from server.store.facts import read_longest
from server.store.rows import columns_of

OVERS = ("start", "end", "until", "mode", "slot", "side", "station", "target", "cause", "doubtful")
OPEN_OVERS = ("start", "until", "mode")


def overs_reaching_into(connection: sa.Connection, low: int, high: int) -> dict[str, Sequence[Any]]:
    """The columns OVERS of what began before `high` and may reach beyond `low`, in order of start."""
    over = schema.over
    wanted = sa.select(*(over.c[name] for name in OVERS)).where(
        over.c.start >= low - read_longest(connection), over.c.start < high
    )
    return columns_of(connection, wanted.order_by(over.c.start, over.c.id), OVERS)


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
