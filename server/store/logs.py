"""Logs and their files: check-points, counts, what they were read with, and files that wait."""

from collections.abc import Sequence

import sqlalchemy as sa

from server.store import schema
from server.store.engine import reading, writing
from server.store.facts import raise_version
from server.store.rows import insert_rows


def carrying_logs(connection: sa.Connection) -> set[int]:
    """The ids of the logs that have told an over, an attempt or a page."""
    return set(connection.execute(sa.select(schema.log.c.id).where(schema.log.c.carries)).scalars())


def note_carrying(connection: sa.Connection, log_id: int) -> None:
    """Note that a log has told an over, an attempt or a page. From then on seen time goes by such logs, so all tallies are made anew."""
    log = schema.log
    noted = connection.execute(sa.update(log).where(log.c.id == log_id, log.c.carries.is_(False)).values(carries=True))
    if noted.rowcount:
        connection.execute(sa.delete(schema.tally))


def carries_now(log_id: int) -> sa.ColumnElement[bool]:
    """Whether the rows of a log tell an over, an attempt or a page."""
    over, opened, event = schema.over, schema.open_over, schema.event
    told = event.c.event.in_(("refused", "page"))
    return sa.or_(
        sa.exists().where(over.c.log_id == log_id),
        sa.exists().where(opened.c.log_id == log_id),
        sa.exists().where(event.c.log_id == log_id, told),
    )


def count_read_with(connection: sa.Connection, file_id: int, how: str, lines: int) -> None:
    """Count lines of a file that were read with a dialect's meaning."""
    table = schema.read_with
    more = sa.update(table).where(table.c.file_id == file_id, table.c.how == how).values(lines=table.c.lines + lines)
    if connection.execute(more).rowcount == 0:
        connection.execute(sa.insert(table).values(file_id=file_id, how=how, lines=lines))


def keep_waiting(engine: sa.Engine, files: Sequence[tuple[str, str, str]]) -> None:
    """Which files wait (path, log's name, sentence), for whoever shows it; nothing is written where it is so already. Raises StoreError."""
    table = schema.waiting_file
    with reading(engine) as connection:
        before = {tuple(row) for row in connection.execute(sa.select(table.c.path, table.c.log_name, table.c.says))}
    if before != set(files):
        with writing(engine) as connection:
            raise_version(connection)
            connection.execute(sa.delete(table))
            insert_rows(connection, table, ("path", "log_name", "says"), files)
