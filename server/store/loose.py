"""What is loose in a log: starts whose end never came, ends that are orphans, and the overs between them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from server.store import schema
from shared.zones import DAY


@dataclass(frozen=True)
class Loose:
    """Rows of a log around a stretch of time, with the columns of their tables."""

    finished: Sequence[Any]  #: overs that reach into it
    unfinished: Sequence[Any]  #: overs that began in it
    still_open: Sequence[Any]  #: open starts in it
    orphans: Sequence[Any]  #: events; the instant is called `at`, as rows have a `t` of their own
    restarts: Sequence[int]  #: instants of host-starts


def loose_in(connection: sa.Connection, log_id: int, low: int, high: int) -> Loose:
    """What is loose in [low, high] of a log."""
    over, opened, event = schema.over, schema.open_over, schema.event
    near = connection.execute(
        sa.select(over).where(over.c.log_id == log_id, over.c.start.between(low - DAY, high)).order_by(over.c.start)
    ).all()
    happened = (event.c.log_id == log_id, event.c.t.between(low, high))
    return Loose(
        finished=[row for row in near if row.end is not None and row.end >= low],
        unfinished=[row for row in near if row.end is None and row.start >= low],
        still_open=connection.execute(
            sa.select(opened).where(
                opened.c.log_id == log_id, opened.c.file_id.is_(None), opened.c.start.between(low, high)
            )
        ).all(),
        orphans=connection.execute(
            sa.select(event, event.c.t.label("at")).where(*happened, event.c.event == "orphan")
        ).all(),
        restarts=connection.execute(
            sa.select(event.c.t).where(*happened, event.c.event == "host-start")
        ).scalars().all(),
    )  # fmt: skip


def take_out(connection: sa.Connection, loose: Loose) -> None:
    """Takes out what is loose: it comes back as it is paired."""
    for table, rows in (
        (schema.over, loose.unfinished),
        (schema.open_over, loose.still_open),
        (schema.event, loose.orphans),
    ):
        for row in rows:
            connection.execute(sa.delete(table).where(table.c.id == row.id))


def put_back_unfinished(connection: sa.Connection, log_id: int, values: Mapping[str, Any]) -> None:
    """An over that is unfinished as it was before."""
    connection.execute(sa.insert(schema.over).values(log_id=log_id, end=None, doubtful=False, cause=None, **values))


def fill_over(connection: sa.Connection, over_id: int, values: Mapping[str, Any]) -> None:
    """Gives a stored over what it lacked."""
    connection.execute(sa.update(schema.over).where(schema.over.c.id == over_id).values(**values))
