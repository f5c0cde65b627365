"""Rows of files that were read again, in place of what was read of them before, inside the caller's transaction."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import sqlalchemy as sa

from server.store import schema
from server.store.engine import writing
from server.store.facts import keep_longest, read_longest
from server.store.lines import LINE_KINDS
from server.store.logs import count_anew, make_log
from server.store.rows import insert_rows
from server.store.rows_of_files import Part, in_parts, of_no_file, since_of
from server.store.tallies import drop_all_tallies
from shared.zones import HOUR

CHUNK = 20_000  # rows at a time
ROWS = (schema.over, schema.event, schema.unread_line)


@dataclass(frozen=True)
class HandedOn:
    """Files that are gone, by what became of the overs that began in them and end in a file that is read again."""

    on: frozenset[int]  #: they were handed on, to be paired again
    apart: frozenset[int]  #: they stay as they are


def _carried(connection: sa.Connection, part: Part) -> list[sa.Row[*tuple[Any, ...]]]:
    """Overs whose start line stood in a file that is gone, and whose end, or none so far, in one that is read again."""
    left, ids = [row.id for row in part.left], [row.id for row in part.replaced]
    if not left or not ids or max(left) > min(ids):
        return []
    over, opened = schema.over, schema.open_over
    names = [column.name for column in opened.c if column.name not in ("id", "file_id", "until")]
    ended = sa.select(*(over.c[name] for name in names)).where(over.c.began_id.in_(left), over.c.file_id.in_(ids))
    still = sa.select(*(opened.c[name] for name in names)).where(
        opened.c.began_id.in_(left), opened.c.file_id.is_(None)
    )
    return [*connection.execute(ended.order_by(over.c.start)), *connection.execute(still.order_by(opened.c.start))]


def keep_open(connection: sa.Connection, scratch: sa.Engine, parts: list[Part]) -> HandedOn:
    """Hand on what was open where the first file begins that is read again, so that its end finds it. Such a start has
    the negative id of its file. Where files are missing in between, an over across them stays as it is.
    """
    on: set[int] = set()
    with writing(scratch) as new:
        for part in parts:
            rows = _carried(connection, part)
            if not rows:
                continue
            on |= {row.began_id for row in rows}
            id_ = make_log(new, part.log, "")
            opened = [{**row._mapping, "log_id": id_, "began_id": -row.began_id} for row in rows]
            new.execute(sa.insert(schema.open_over), opened)
    return HandedOn(frozenset(on), frozenset({row.id for part in parts for row in part.left} - on))


def replace_rows(connection: sa.Connection, new: sa.Connection, parts: list[Part], handed: HandedOn) -> None:
    """Takes out what was read of the files before, and puts in what was read of them now. All tallies are made anew."""
    logs: set[int] = set()
    for part in parts:
        log_id = _log_id(connection, new, part)
        logs |= {log_id, *(row.log_id for row in part.replaced)}
        for replaced_id in {row.log_id for row in part.replaced}:
            _take_out(connection, part, replaced_id, handed)
        files = _put_files(connection, new, part, log_id)
        _put_rows(connection, new, part, log_id, files)
    for log_id in logs:
        count_anew(connection, log_id)
    keep_longest(connection, read_longest(new))
    drop_all_tallies(connection)


def _take_out(connection: sa.Connection, part: Part, log_id: int, handed: HandedOn) -> None:
    ids = [row.id for row in part.replaced if row.log_id == log_id]
    since = since_of(connection, part, log_id)
    for table in ROWS:
        _delete_of(connection, table, ids, *_not_apart(table, handed))
        connection.execute(sa.delete(table).where(*of_no_file(table, log_id, since)))
    opened, stay = schema.open_over, [row.id for row in part.left if row.id not in handed.on]
    connection.execute(sa.delete(opened).where(opened.c.log_id == log_id, *_not_begun_in(opened, stay)))
    for table in (schema.line_hour, schema.arrival):
        _delete_of(connection, table, ids, table.c.log_id == log_id)
    _cut_hours(connection, log_id, since)
    _delete_of(connection, schema.read_with, ids)
    again = {row.id for row, _ in part.pairs if row is not None}
    for some in in_parts(sorted({*ids} - again)):
        connection.execute(sa.delete(schema.file).where(schema.file.c.id.in_(some)))


def _delete_of(
    connection: sa.Connection, table: sa.Table, files: list[int], *conditions: sa.ColumnElement[bool]
) -> None:
    """The rows of these files go."""
    for some in in_parts(files):
        connection.execute(sa.delete(table).where(table.c.file_id.in_(some), *conditions))


def _not_apart(table: sa.Table, handed: HandedOn) -> list[sa.ColumnElement[bool]]:
    if table is not schema.over:
        return []
    return _not_begun_in(table, sorted(handed.apart))


def _not_begun_in(table: sa.Table, files: Sequence[int]) -> list[sa.ColumnElement[bool]]:
    return [table.c.began_id.is_(None) | table.c.began_id.not_in(some) for some in in_parts(files)]


def _cut_hours(connection: sa.Connection, log_id: int, since: int | None) -> None:
    """Takes the lines whose file is not known out of a log's hours, from an instant on."""
    table = schema.line_hour
    ours = (table.c.log_id == log_id) & (table.c.file_id == 0)
    if since is None:
        connection.execute(sa.delete(table).where(ours))
        return
    hour = since // HOUR * HOUR
    row = connection.execute(sa.select(table).where(ours, table.c.hour == hour)).first()
    connection.execute(sa.delete(table).where(ours, table.c.hour >= hour))
    if row is not None:
        before = [np.frombuffer(getattr(row, kind), dtype="<u4") for kind in LINE_KINDS]
        blobs = [stamps[stamps < since - hour].tobytes() for stamps in before]
        left = [(log_id, hour, 0, *blobs)] if any(blobs) else []
        insert_rows(connection, table, ("log_id", "hour", "file_id", *LINE_KINDS), left)


def _log_id(connection: sa.Connection, new: sa.Connection, part: Part) -> int:
    """The log's row, made where there was none, with what intake goes on from."""
    log = schema.log
    fresh = new.execute(sa.select(log).where(log.c.name == part.log)).first()
    before = connection.execute(sa.select(log.c.id).where(log.c.name == part.log)).first()
    if fresh is None:
        assert before is not None
        return int(before.id)
    id_ = make_log(connection, part.log, fresh.dialect) if before is None else int(before.id)
    values = {"dialect": fresh.dialect, "carry_us": fresh.carry_us}
    connection.execute(sa.update(log).where(log.c.id == id_).values(**values))
    return id_


def _put_files(connection: sa.Connection, new: sa.Connection, part: Part, log_id: int) -> dict[int, int]:
    """The check-points as they are now; the ids that the new ones' rows get."""
    file, read_with = schema.file, schema.read_with
    ids: dict[int, int] = {}
    for before, after in part.pairs:
        row = new.execute(sa.select(file).where(file.c.id == after.id)).one()
        values = {**row._mapping, "log_id": log_id}
        del values["id"]
        if before is None:
            ids[after.id] = int(connection.execute(sa.insert(file).values(**values).returning(file.c.id)).scalar_one())
        else:
            connection.execute(sa.update(file).where(file.c.id == before.id).values(**values))
            ids[after.id] = before.id
        with_what = new.execute(
            sa.select(read_with.c.how, read_with.c.lines).where(read_with.c.file_id == after.id)
        ).all()
        rows = [(ids[after.id], *meaning) for meaning in with_what]
        insert_rows(connection, read_with, ("file_id", "how", "lines"), rows)
    return ids


def _put_rows(connection: sa.Connection, new: sa.Connection, part: Part, log_id: int, files: dict[int, int]) -> None:
    left = {row.id for row in part.left}
    for table in (*ROWS, schema.line_hour, schema.arrival):
        names = _columns(table)
        for rows in _rows(new, sa.select(*(table.c[name] for name in names)), table, list(files)):
            insert_rows(connection, table, names, [_ours(names, row, log_id, files, left) for row in rows])
    opened = schema.open_over
    names = _columns(opened)
    mine = [row for row in _open_starts(new, part.log, names) if _is_handed_on(row.began_id, files)]
    insert_rows(connection, opened, names, [_ours(names, row, log_id, files, left) for row in mine])


def _columns(table: sa.Table) -> list[str]:
    return [column.name for column in table.c if column.name != "id"]


def _open_starts(new: sa.Connection, log: str, names: Sequence[str]) -> Sequence[sa.Row[*tuple[Any, ...]]]:
    opened = schema.open_over
    of_log = sa.select(schema.log.c.id).where(schema.log.c.name == log).scalar_subquery()
    columns = (opened.c[name] for name in names)
    return new.execute(sa.select(*columns).where(opened.c.log_id == of_log).order_by(opened.c.id)).all()


def _is_handed_on(began: int | None, files: dict[int, int]) -> bool:
    """Whether an open start stood in one of these files, or in one that is gone, which has a negative id."""
    return began is None or began < 0 or began in files


def _ours(names: Sequence[str], values: Sequence[Any], log_id: int, files: dict[int, int], left: set[int]) -> list[Any]:
    """A row's values with the ids of the station's store."""
    row = dict(zip(names, values, strict=True))
    row["log_id"] = log_id
    if row.get("file_id") is not None:
        row["file_id"] = files.get(row["file_id"])
    began = row.get("began_id")
    if began is not None:
        row["began_id"] = files.get(began) if began > 0 else -began if -began in left else None
    return list(row.values())


def _rows(
    new: sa.Connection, query: sa.Select[*tuple[Any, ...]], table: sa.Table, files: list[int]
) -> Iterator[Sequence[sa.Row[*tuple[Any, ...]]]]:
    """The rows of these files, a chunk at a time, in the order in which they were stored."""
    order = table.c.id if "id" in table.c else table.c.hour if "hour" in table.c else table.c.at
    for some in in_parts(sorted(files)):
        result = new.execute(query.where(table.c.file_id.in_(some)).order_by(order))
        while rows := result.fetchmany(CHUNK):
            yield rows
