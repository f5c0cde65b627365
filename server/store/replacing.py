"""Rows of files that were read again, in place of what was read of them before, inside the caller's transaction."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np
import sqlalchemy as sa

from server.store import schema
from server.store.engine import writing
from server.store.facts import keep_longest, read_longest
from server.store.lines import LINE_KINDS as KINDS
from server.store.logs import count_anew, make_log
from server.store.rows import insert_rows
from server.store.tallies import drop_all_tallies
from shared.zones import HOUR

CHUNK = 20_000  # rows at a time
ROWS = (schema.over, schema.event, schema.unread_line)
AT = {"over": "start", "event": "t", "unread_line": "t"}  # when a row was, where its file is not known


class ReadFile(Protocol):
    """A file as it was read: a row of the table `file`."""

    @property
    def id(self) -> int: ...
    @property
    def log_id(self) -> int: ...
    @property
    def lines(self) -> int: ...


@dataclass
class Part:
    """One log of those that are read again."""

    log: str
    pairs: list[tuple[ReadFile | None, ReadFile]] = field(
        default_factory=list
    )  #: check-point before, if there was one, and after
    replaced: list[ReadFile] = field(default_factory=list)  #: whose rows go
    left: list[ReadFile] = field(default_factory=list)  #: whose files are gone: their rows stay


@dataclass(frozen=True)
class Handed:
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


def keep_open(connection: sa.Connection, scratch: sa.Engine, parts: list[Part]) -> Handed:
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
    return Handed(frozenset(on), frozenset({row.id for part in parts for row in part.left} - on))


def again(
    connection: sa.Connection, new: sa.Connection, part: Part
) -> tuple[tuple[int, int], int, tuple[int | None, int]]:
    """Finished overs before and after, lines after, unread lines before (None: not known) and after, of what is
    replaced.
    """
    over = schema.over

    def finished(of: sa.Connection, ids: list[int]) -> int:
        return sum(
            of.execute(sa.select(sa.func.count()).where(over.c.file_id.in_(some), over.c.end.is_not(None))).scalar_one()
            for some in _some(ids)
        )

    before = finished(connection, [row.id for row in part.replaced])
    for log_id in {row.log_id for row in part.replaced}:
        before += connection.execute(
            sa.select(sa.func.count()).where(
                *_unknown(schema.over, log_id, _from(connection, part, log_id)), over.c.end.is_not(None)
            )
        ).scalar_one()
    after = [row.id for _, row in part.pairs]
    file = schema.file

    def unread(of: sa.Connection, ids: list[int]) -> int | None:
        counts = [
            count
            for some in _some(ids)
            for count in of.execute(sa.select(file.c.unread).where(file.c.id.in_(some))).scalars()
        ]
        return None if None in counts else sum(counts)

    lines = sum(row.lines for _, row in part.pairs)
    return (
        (before, finished(new, after)),
        lines,
        (unread(connection, [row.id for row in part.replaced]), unread(new, after) or 0),
    )


def overs_elsewhere(connection: sa.Connection, new: sa.Connection, part: Part) -> int:
    """How many finished overs start at another instant than in what is replaced: one after the other, where they are
    as many as before; else those that start where none did.
    """
    before = _starts(connection, [row.id for row in part.replaced])
    for log_id in {row.log_id for row in part.replaced}:
        unknown = _unknown(schema.over, log_id, _from(connection, part, log_id))
        rows = connection.execute(sa.select(schema.over.c.start).where(*unknown, schema.over.c.end.is_not(None)))
        before.update(rows.scalars())
    after = _starts(new, [row.id for _, row in part.pairs])
    if after.total() == before.total():
        ordered = zip(sorted(after.elements()), sorted(before.elements()), strict=True)
        return sum(one != other for one, other in ordered)
    return (after - before).total()


def _starts(of: sa.Connection, ids: list[int]) -> Counter[int]:
    over, found = schema.over, Counter[int]()
    for some in _some(ids):
        rows = of.execute(sa.select(over.c.start).where(over.c.file_id.in_(some), over.c.end.is_not(None)))
        found.update(rows.scalars())
    return found


def replace_rows(connection: sa.Connection, new: sa.Connection, parts: list[Part], handed: Handed) -> None:
    """Takes out what was read of the files before, and puts in what was read of them now. All tallies are made anew."""
    logs: set[int] = set()
    for part in parts:
        log_id = _log_id(connection, new, part)
        logs |= {log_id, *(row.log_id for row in part.replaced)}
        for one in {row.log_id for row in part.replaced}:
            _take_out(connection, part, one, handed)
        files = _put_files(connection, new, part, log_id)
        _put_rows(connection, new, part, log_id, files)
    for log_id in logs:
        count_anew(connection, log_id)
    keep_longest(connection, read_longest(new))
    drop_all_tallies(connection)


def _take_out(connection: sa.Connection, part: Part, log_id: int, handed: Handed) -> None:
    ids = [row.id for row in part.replaced if row.log_id == log_id]
    since = _from(connection, part, log_id)
    for table in ROWS:
        for some in _some(ids):
            connection.execute(sa.delete(table).where(table.c.file_id.in_(some), *_not_apart(table, handed)))
        connection.execute(sa.delete(table).where(*_unknown(table, log_id, since)))
    opened = schema.open_over
    stay = [row.id for row in part.left if row.id not in handed.on]
    went = [opened.c.began_id.is_(None) | opened.c.began_id.not_in(some) for some in _some(stay)]
    connection.execute(sa.delete(opened).where(opened.c.log_id == log_id, *went))
    hours = schema.line_hour
    for some in _some(ids):
        for table in (hours, schema.arrival):
            connection.execute(sa.delete(table).where(table.c.log_id == log_id, table.c.file_id.in_(some)))
    _cut_hours(connection, log_id, since)
    for some in _some(ids):
        connection.execute(sa.delete(schema.read_with).where(schema.read_with.c.file_id.in_(some)))
    kept = {row.id for row, _ in part.pairs if row is not None}
    for some in _some([id_ for id_ in ids if id_ not in kept]):
        connection.execute(sa.delete(schema.file).where(schema.file.c.id.in_(some)))


def _not_apart(table: sa.Table, handed: Handed) -> list[sa.ColumnElement[bool]]:
    if table is not schema.over:
        return []
    return [table.c.began_id.is_(None) | table.c.began_id.not_in(some) for some in _some(sorted(handed.apart))]


def _from(connection: sa.Connection, part: Part, log_id: int) -> int | None:
    """The instant from which rows of a log whose file is not known belong to files that are read again; None: all do.

    An older version kept no file with a row. The files that are gone are the oldest, as a rule, so theirs are as many
    lines as they had."""
    left = sum(row.lines for row in part.left if row.log_id == log_id)
    if not left:
        return None
    stamps = _stamps(connection, log_id, [0])
    if len(stamps):
        return int(stamps[left]) if left < len(stamps) else int(stamps[-1]) + 1
    stamps = _stamps(connection, log_id, [row.id for row in part.replaced])
    return int(stamps[0]) if len(stamps) else None


def _stamps(connection: sa.Connection, log_id: int, files: Sequence[int]) -> np.ndarray:
    table = schema.line_hour
    query = sa.select(table.c.hour, *(table.c[kind] for kind in KINDS)).where(table.c.log_id == log_id)
    parts = [
        hour + np.frombuffer(blob, dtype="<u4").astype(np.int64)
        for some in _some(files)
        for hour, *blobs in connection.execute(query.where(table.c.file_id.in_(some)))
        for blob in blobs
    ]
    return np.sort(np.concatenate(parts)) if parts else np.empty(0, dtype=np.int64)


def _unknown(table: sa.Table, log_id: int, since: int | None) -> list[sa.ColumnElement[bool]]:
    """Rows of a log whose file is not known, from an instant on."""
    ours = [table.c.log_id == log_id, table.c.file_id.is_(None)]
    at = table.c[AT[table.name]]
    return ours if since is None else [*ours, sa.or_(at >= since, at.is_(None))]


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
        before = [np.frombuffer(getattr(row, kind), dtype="<u4") for kind in KINDS]
        blobs = [stamps[stamps < since - hour].tobytes() for stamps in before]
        insert_rows(
            connection, table, ("log_id", "hour", "file_id", *KINDS), [(log_id, hour, 0, *blobs)] if any(blobs) else []
        )


def _log_id(connection: sa.Connection, new: sa.Connection, part: Part) -> int:
    """The log's row, made where there was none, with what intake goes on from."""
    log = schema.log
    fresh = new.execute(sa.select(log).where(log.c.name == part.log)).first()
    found = connection.execute(sa.select(log.c.id).where(log.c.name == part.log)).first()
    if fresh is None:
        assert found is not None
        return int(found.id)
    id_ = make_log(connection, part.log, fresh.dialect) if found is None else int(found.id)
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
        insert_rows(connection, read_with, ("file_id", "how", "lines"), [(ids[after.id], *one) for one in with_what])
    return ids


def _put_rows(connection: sa.Connection, new: sa.Connection, part: Part, log_id: int, files: dict[int, int]) -> None:
    known = {row.id for row in part.left}
    for table in (*ROWS, schema.line_hour, schema.arrival):
        names = [column.name for column in table.c if column.name != "id"]
        for rows in _rows(new, sa.select(*(table.c[name] for name in names)), table, list(files)):
            insert_rows(
                connection,
                table,
                names,
                [_ours(dict(zip(names, row, strict=True)), log_id, files, known) for row in rows],
            )
    opened = schema.open_over
    names = [column.name for column in opened.c if column.name != "id"]
    of_log = sa.select(schema.log.c.id).where(schema.log.c.name == part.log).scalar_subquery()
    still = new.execute(
        sa.select(*(opened.c[name] for name in names)).where(opened.c.log_id == of_log).order_by(opened.c.id)
    ).all()
    whole = [dict(zip(names, row, strict=True)) for row in still]
    mine = [row for row in whole if row["began_id"] is None or row["began_id"] < 0 or row["began_id"] in files]
    insert_rows(connection, opened, names, [_ours(row, log_id, files, known) for row in mine])


def _ours(row: dict[str, Any], log_id: int, files: dict[int, int], known: set[int]) -> list[Any]:
    """A row's values with the ids of the station's store."""
    row["log_id"] = log_id
    if row.get("file_id") is not None:
        row["file_id"] = files.get(row["file_id"])
    began = row.get("began_id")
    if began is not None:
        row["began_id"] = files.get(began) if began > 0 else -began if -began in known else None
    return list(row.values())


def _rows(
    new: sa.Connection, query: sa.Select[*tuple[Any, ...]], table: sa.Table, files: list[int]
) -> Iterator[Sequence[sa.Row[*tuple[Any, ...]]]]:
    """The rows of these files, a chunk at a time, in the order in which they were stored."""
    order = table.c.id if "id" in table.c else table.c.hour if "hour" in table.c else table.c.at
    for some in _some(sorted(files)):
        found = new.execute(query.where(table.c.file_id.in_(some)).order_by(order))
        while rows := found.fetchmany(CHUNK):
            yield rows


def _some(ids: Sequence[int]) -> Iterator[Sequence[int]]:
    for at in range(0, len(ids), 500):
        yield ids[at : at + 500]
