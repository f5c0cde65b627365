"""What pairing gave, into the store: overs, starts that are open, other events."""

from collections.abc import Sequence
from typing import Any

import polars as pl
import sqlalchemy as sa

from server.store import schema
from server.store.frames import insert_frame

EVENT_ROW = (
    "t", "event", "mode", "slot", "side", "station", "target", "network", "reason", "seconds", "rssi_dbm",
    "session", "bit_rate", "code_words", "characters",
)  # fmt: skip


def open_starts(
    connection: sa.Connection, log_id: int, file_id: int | None, names: Sequence[str]
) -> list[tuple[Any, ...]]:
    """These columns of the starts that are open in a log, or in a file of it that stands apart, in the order in which
    they were stored.
    """
    table = schema.open_over
    query = sa.select(*(table.c[name] for name in names)).where(*_ours(log_id, file_id)).order_by(table.c.id)
    return [tuple(row) for row in connection.execute(query)]


def keep_open_starts(connection: sa.Connection, log_id: int, file_id: int | None, starts: pl.DataFrame) -> None:
    """The starts that are open now, in place of those that were."""
    connection.execute(sa.delete(schema.open_over).where(*_ours(log_id, file_id)))
    add_open_starts(connection, log_id, file_id, starts)


def add_open_starts(connection: sa.Connection, log_id: int, file_id: int | None, starts: pl.DataFrame) -> None:
    """Starts that are open besides those that are."""
    insert_frame(connection, schema.open_over, starts, log_id=log_id, file_id=file_id)


def add_overs(connection: sa.Connection, log_id: int, file_id: int | None, overs: pl.DataFrame) -> None:
    """Overs, the ids in the order of the rows."""
    insert_frame(connection, schema.over, overs, log_id=log_id, file_id=file_id)


def add_events(connection: sa.Connection, log_id: int, file_id: int | None, events: pl.DataFrame) -> None:
    """Events that are no overs."""
    if events.height:
        insert_frame(connection, schema.event, events.select(EVENT_ROW), log_id=log_id, file_id=file_id)


def _ours(log_id: int, file_id: int | None) -> tuple[sa.ColumnElement[bool], sa.ColumnElement[bool]]:
    table = schema.open_over
    return table.c.log_id == log_id, table.c.file_id.is_(None) if file_id is None else table.c.file_id == file_id
