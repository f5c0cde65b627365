"""Rows into the store, a batch at a time, inside the caller's transaction."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import chain
from typing import Any

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from server.store import schema
from server.store.engine import reading, writing
from shared.zones import DAY, HOUR

UNREAD_KEPT = 100_000  # raw unread lines kept for each log
AT_ONCE = 40  # rows a statement
TEXT_KEPT = 4096  # characters kept of each


class Raced(Exception):
    """Another process has written to the store since the check-points were read."""


def insert_rows(
    connection: sa.Connection, table: sa.Table, names: Sequence[str], rows: Iterable[Sequence[Any]]
) -> None:
    """Many rows (tuples in the order of `names`) at once; the driver's own bulk call on SQLite."""
    if connection.dialect.name == "sqlite":
        insert_many(connection, table, dict.fromkeys(names, "?"), list(chain.from_iterable(rows)))
        return
    dictionaries = [dict(zip(names, row, strict=True)) for row in rows]
    if dictionaries:
        connection.execute(sa.insert(table), dictionaries)


def insert_many(connection: sa.Connection, table: sa.Table, columns: Mapping[str, str], values: list[Any]) -> None:
    """The driver's own bulk call, AT_ONCE rows a statement: quicker than one, as the statement's own cost is shared. `columns` has the SQL
    of each column, with `?` where a value goes; `values` has those of all rows, one row after another."""
    names = ", ".join(f'"{name}"' for name in columns)
    row = f"({', '.join(columns.values())})"
    wide = sum("?" in sql for sql in columns.values())
    whole = len(values) // (wide * AT_ONCE) * AT_ONCE
    for rows, low, high in ((AT_ONCE, 0, whole * wide), (1, whole * wide, len(values))):
        if low < high:
            batches = [tuple(values[at : at + rows * wide]) for at in range(low, high, rows * wide)]
            connection.exec_driver_sql(f"INSERT INTO {table.name} ({names}) VALUES {', '.join([row] * rows)}", batches)


def read_version(connection: sa.Connection) -> int:
    """How many batches the store has taken."""
    value = connection.execute(sa.select(schema.fact.c.value).where(schema.fact.c.name == "version")).scalar()
    return int(value) if value is not None else 0


def raise_version(connection: sa.Connection, expected: int | None = None) -> int:
    """Count one more batch. Raises Raced where the store does not stand at `expected`."""
    now = read_version(connection)
    if expected is not None and now != expected:
        raise Raced
    set_fact(connection, "version", str(now + 1))
    return now + 1


def set_fact(connection: sa.Connection, name: str, value: str) -> None:
    """Keep a small fact."""
    fact = schema.fact
    if connection.execute(sa.update(fact).where(fact.c.name == name).values(value=value)).rowcount == 0:
        connection.execute(sa.insert(fact).values(name=name, value=value))


def keep_longest(connection: sa.Connection, length_us: int | None) -> None:
    """Remember the longest over of all, so that readers know how far back one may begin that reaches into their window."""
    if length_us is not None and length_us > read_longest(connection):
        set_fact(connection, "longest", str(length_us))


def read_longest(connection: sa.Connection) -> int:
    """A length that no stored over exceeds, microseconds; a day at least, so that it seldom changes."""
    value = connection.execute(sa.select(schema.fact.c.value).where(schema.fact.c.name == "longest")).scalar()
    return max(DAY, int(value)) if value is not None else DAY


def add_line_hours(
    connection: sa.Connection,
    log_id: int,
    file_id: int,
    stamps: npt.NDArray[np.int64],
    stamped: npt.NDArray[np.bool_],
    verdicts: npt.NDArray[np.uint8],
) -> None:
    """Add the instants at which lines of a file were written to its hours; (n,) each."""
    if not stamped.any():
        return
    hours = np.floor_divide(stamps, HOUR)
    offsets = (stamps - hours * HOUR).astype("<u4")
    order = np.argsort(hours[stamped], kind="stable")
    hours, offsets, verdicts = hours[stamped][order], offsets[stamped][order], verdicts[stamped][order]
    distinct, first = np.unique(hours, return_index=True)
    table = schema.line_hour
    ours = (table.c.log_id == log_id) & (table.c.file_id == file_id)
    first_hour, last_hour = int(distinct[0]) * HOUR, int(distinct[-1]) * HOUR
    there = connection.execute(sa.select(table).where(ours, table.c.hour.between(first_hour, last_hour)))
    before = {row.hour: (row.understood, row.ignored, row.unread) for row in there}
    rows = []
    for hour, low, high in zip(distinct.tolist(), first, [*first[1:], len(hours)], strict=True):
        old = before.get(hour * HOUR, (b"", b"", b""))
        part, kind = offsets[low:high], verdicts[low:high]
        rows.append((log_id, hour * HOUR, file_id, *(old[code] + part[kind == code].tobytes() for code in range(3))))
    touched = [row[1] for row in rows if row[1] in before]
    for piece in range(0, len(touched), 500):
        connection.execute(sa.delete(table).where(ours, table.c.hour.in_(touched[piece : piece + 500])))
    insert_rows(connection, table, ("log_id", "hour", "file_id", "understood", "ignored", "unread"), rows)


def keep_unread(
    connection: sa.Connection, log_id: int, file_id: int | None, stamps: Sequence[int | None], texts: Sequence[str]
) -> None:  # fmt: skip
    """Keep unread lines of a file as they were, the newest UNREAD_KEPT of a log."""
    if not texts:
        return
    table = schema.unread_line
    rows = [
        (log_id, file_id, stamp, text[:TEXT_KEPT].replace("\0", "\ufffd"), len(text) > TEXT_KEPT)
        for stamp, text in zip(stamps[-UNREAD_KEPT:], texts[-UNREAD_KEPT:], strict=True)
    ]
    insert_rows(connection, table, ("log_id", "file_id", "t", "text", "cut"), rows)
    newest = sa.select(sa.func.max(table.c.id)).where(table.c.log_id == log_id).scalar_subquery()
    connection.execute(sa.delete(table).where(table.c.log_id == log_id, table.c.id <= newest - UNREAD_KEPT))


def note_carrying(connection: sa.Connection, log_id: int) -> None:
    """Note that a log has told an over, an attempt or a page. From then on seen time goes by such logs, so all tallies are made anew."""
    log = schema.log
    noted = connection.execute(sa.update(log).where(log.c.id == log_id, log.c.carries.is_(False)).values(carries=True))
    if noted.rowcount:
        connection.execute(sa.delete(schema.tally))


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


def forget_tallies(connection: sa.Connection, first_us: int, last_us: int) -> None:
    """Drop the tallies of the hours that rows between two instants can change: holds and tails reach an hour at most."""
    hour = schema.tally.c.hour
    connection.execute(sa.delete(schema.tally).where(hour > first_us - 3 * HOUR, hour < last_us + 2 * HOUR))
