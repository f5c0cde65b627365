"""Files of logs: check-points, what their lines were read with, and files that wait."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

import sqlalchemy as sa

from server.store import schema
from server.store.engine import reading, writing
from server.store.facts import raise_version
from server.store.rows import insert_rows


def check_points(connection: sa.Connection, id_: int | None = None) -> list[dict[str, Any]]:
    """The columns of all files with `log_name`, or those of one, the newest first."""
    file, log = schema.file, schema.log
    query = sa.select(file, log.c.name.label("log_name")).join(log, file.c.log_id == log.c.id)
    rows = connection.execute((query if id_ is None else query.where(file.c.id == id_)).order_by(file.c.id.desc()))
    return [row._asdict() for row in rows]


def files_of_log(connection: sa.Connection, log_id: int) -> list[tuple[str, int, str | None]]:
    """Path, lines and trouble of the files of a log, as they were first read."""
    file = schema.file
    query = sa.select(file.c.path, file.c.lines, file.c.trouble).where(file.c.log_id == log_id).order_by(file.c.id)
    return [(path, lines, trouble) for path, lines, trouble in connection.execute(query)]


def last_header(connection: sa.Connection, log_id: int) -> tuple[str, ...] | None:
    """The header line of a csv log, as it was read last."""
    file = schema.file
    query = sa.select(file.c.header).where(file.c.log_id == log_id).order_by(file.c.id.desc()).limit(1)
    text = connection.execute(query).scalar()
    return tuple(json.loads(text)) if text else None


def lines_read_with(connection: sa.Connection) -> list[tuple[int, str, str, int]]:
    """Log, path, with what they were read, and how many lines: of each file."""
    file, read_with = schema.file, schema.read_with
    query = sa.select(file.c.log_id, file.c.path, read_with.c.how, read_with.c.lines)
    rows = connection.execute(query.join(read_with, read_with.c.file_id == file.c.id))
    return [(log_id, path, how, lines) for log_id, path, how, lines in rows]


def count_read_with(connection: sa.Connection, file_id: int, how: str, lines: int) -> None:
    """Count lines of a file that were read with a dialect's meaning."""
    table = schema.read_with
    more = sa.update(table).where(table.c.file_id == file_id, table.c.how == how).values(lines=table.c.lines + lines)
    if connection.execute(more).rowcount == 0:
        connection.execute(sa.insert(table).values(file_id=file_id, how=how, lines=lines))


def waiting_files(connection: sa.Connection) -> list[tuple[str, str]]:
    """Log and sentence of the files that wait."""
    query = sa.select(schema.waiting_file.c.log_name, schema.waiting_file.c.says)
    return [(name, says) for name, says in connection.execute(query)]


def keep_waiting(engine: sa.Engine, files: Sequence[tuple[str, str, str]]) -> None:
    """Which files wait (path, log's name, sentence), for whoever shows it; nothing is written where it is so already.
    Raises StoreError.
    """
    table = schema.waiting_file
    with reading(engine) as connection:
        before = {tuple(row) for row in connection.execute(sa.select(table.c.path, table.c.log_name, table.c.says))}
    if before != set(files):
        with writing(engine) as connection:
            raise_version(connection)
            connection.execute(sa.delete(table))
            insert_rows(connection, table, ("path", "log_name", "says"), files)


def add_file(connection: sa.Connection, log_id: int | None, values: Mapping[str, Any]) -> int:
    """A check-point of a file that is read for the first time; its id."""
    new = sa.insert(schema.file).values(log_id=log_id, **values)
    return int(connection.execute(new.returning(schema.file.c.id)).scalar_one())


def keep_file(
    connection: sa.Connection, file_id: int | None, values: Mapping[str, Any], counts: Mapping[str, int] | None = None
) -> None:
    """A check-point as it is from now on; `counts` are added to what it has."""
    file = schema.file
    grown = {name: file.c[name] + count for name, count in (counts or {}).items()}
    connection.execute(sa.update(file).where(file.c.id == file_id).values(**values, **grown))


def now_read_with(connection: sa.Connection, log_id: int, before: str, now: str) -> None:
    """What a log's lines were read with has another name."""
    table, file = schema.read_with, schema.file
    ours = table.c.file_id.in_(sa.select(file.c.id).where(file.c.log_id == log_id))
    rows = connection.execute(sa.select(table).where(ours, table.c.how == before)).all()
    connection.execute(sa.delete(table).where(ours, table.c.how == before))
    for row in rows:
        count_read_with(connection, row.file_id, now, row.lines)
