"""Logs and their files: check-points, counts, what they were read with, and files that wait."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import sqlalchemy as sa

from server.store import schema
from server.store.lines import LINE_KINDS


def names_of_logs(connection: sa.Connection) -> dict[int, str]:
    """The names of all logs by id."""
    return {id_: name for id_, name in connection.execute(sa.select(schema.log.c.id, schema.log.c.name))}


def latest_stamp(connection: sa.Connection) -> int | None:
    """The latest instant that any log has told."""
    return connection.execute(sa.select(sa.func.max(schema.log.c.last_us))).scalar()


def carrying_logs(connection: sa.Connection) -> set[int]:
    """The ids of the logs that have told an over, an attempt or a page."""
    return set(connection.execute(sa.select(schema.log.c.id).where(schema.log.c.carries)).scalars())


def note_carrying(connection: sa.Connection, log_id: int) -> None:
    """Note that a log has told an over, an attempt or a page. From then on seen time goes by such logs, so all tallies
    are made anew.
    """
    log = schema.log
    noted = connection.execute(sa.update(log).where(log.c.id == log_id, log.c.carries.is_(False)).values(carries=True))
    if noted.rowcount:
        connection.execute(sa.delete(schema.tally))


def carries_now(log_id: int) -> sa.ColumnElement[bool]:
    """Whether the rows of a log tell an over, an attempt or a page."""
    over, opened, event = schema.over, schema.open_over, schema.event
    refused_or_paged = event.c.event.in_(("refused", "page"))
    return sa.or_(
        sa.exists().where(over.c.log_id == log_id),
        sa.exists().where(opened.c.log_id == log_id),
        sa.exists().where(event.c.log_id == log_id, refused_or_paged),
    )


def log_counts(connection: sa.Connection) -> list[tuple[str, int, int, int]]:
    """Of each log its name, how many lines were read, and how many of them were understood and unread."""
    log = schema.log
    rows = connection.execute(sa.select(log.c.name, log.c.lines, log.c.understood, log.c.unread).order_by(log.c.name))
    return [tuple(row) for row in rows]


@dataclass(frozen=True)
class LogRow:
    """A log as the store has it; instants in microseconds, lines by what became of them."""

    id: int
    name: str
    dialect: str
    lines: int
    understood: int
    ignored: int
    unread: int
    first_us: int | None
    last_us: int | None


def all_logs(connection: sa.Connection) -> list[LogRow]:
    """All logs, by name."""
    log = schema.log
    columns = (log.c[column.name] for column in fields(LogRow))
    return [LogRow(*row) for row in connection.execute(sa.select(*columns).order_by(log.c.name))]


def log_named(connection: sa.Connection, name: str) -> LogRow | None:
    """The log of a name."""
    log = schema.log
    row = connection.execute(
        sa.select(*(log.c[column.name] for column in fields(LogRow))).where(log.c.name == name)
    ).first()
    return None if row is None else LogRow(*row)


def loose_ends(connection: sa.Connection, log_id: int) -> tuple[int, int]:
    """How many orphans and how many doubtful overs a log has."""
    event, over = schema.event, schema.over
    orphans = sa.select(sa.func.count()).where(event.c.event == "orphan", event.c.log_id == log_id)
    doubtful = sa.select(sa.func.count()).where(over.c.log_id == log_id, over.c.doubtful)
    return connection.execute(orphans).scalar_one(), connection.execute(doubtful).scalar_one()


def rename_log(connection: sa.Connection, log_id: int, name: str) -> None:
    """A log that moved has another name."""
    connection.execute(sa.update(schema.log).where(schema.log.c.id == log_id).values(name=name))


def log_ids(connection: sa.Connection) -> dict[str, int]:
    """The ids of all logs by name."""
    return {name: id_ for id_, name in names_of_logs(connection).items()}


def make_log(connection: sa.Connection, name: str, dialect: str) -> int:
    """A log of which nothing was read yet; its id."""
    new = sa.insert(schema.log).values(name=name, dialect=dialect, lines=0, understood=0, ignored=0, unread=0)
    return int(connection.execute(new.returning(schema.log.c.id)).scalar_one())


def count_anew(connection: sa.Connection, log_id: int) -> None:
    """A log's counts from those of its files, and what it carries; a log without files is none."""
    log, file, hours = schema.log, schema.file, schema.line_hour
    rows = connection.execute(
        sa.select(file.c.lines, *(file.c[kind] for kind in LINE_KINDS)).where(file.c.log_id == log_id)
    ).all()
    if not rows:
        connection.execute(sa.delete(log).where(log.c.id == log_id))
        return
    counts = {"lines": sum(row.lines for row in rows)}
    if any(row.unread is None for row in rows):  # an older version counted them by log only: by what was stamped
        stamped = connection.execute(
            sa.select(*(sa.func.coalesce(sa.func.sum(sa.func.length(hours.c[kind])), 0) for kind in LINE_KINDS)).where(
                hours.c.log_id == log_id
            )
        ).one()
        counts |= {"understood": stamped[0] // 4, "unread": stamped[2] // 4}
        counts["ignored"] = counts["lines"] - counts["understood"] - counts["unread"]
    else:
        counts |= {kind: sum(getattr(row, kind) for row in rows) for kind in LINE_KINDS}
    edges = {
        "first_us": _edge(connection, log_id, sa.func.min, min),
        "last_us": _edge(connection, log_id, sa.func.max, max),
    }
    carries = connection.execute(sa.select(carries_now(log_id))).scalar_one()
    connection.execute(sa.update(log).where(log.c.id == log_id).values(**counts, **edges, carries=carries))


def _edge(
    connection: sa.Connection, log_id: int, of_hours: Callable[..., Any], of_lines: Callable[..., int]
) -> int | None:
    """The first or the last instant at which a line of a log was written."""
    table = schema.line_hour
    hour = sa.select(of_hours(table.c.hour)).where(table.c.log_id == log_id).scalar_subquery()
    rows = connection.execute(sa.select(table).where(table.c.log_id == log_id, table.c.hour == hour)).all()
    logs = [
        row.hour + of_lines(np.frombuffer(getattr(row, kind), dtype="<u4").tolist())
        for row in rows
        for kind in LINE_KINDS
        if getattr(row, kind)
    ]
    return of_lines(logs) if logs else None


def carry_of_log(connection: sa.Connection, name: str, id_: int | None) -> tuple[int, int | None] | None:
    """A log's id, and the stamp that its next line goes on from; by its id, or by its name where that is not known."""
    log = schema.log
    ours = log.c.name == name if id_ is None else log.c.id == id_
    row = connection.execute(sa.select(log.c.id, log.c.carry_us).where(ours)).first()
    return None if row is None else (row.id, row.carry_us)


def bounds_of_log(connection: sa.Connection, log_id: int | None) -> tuple[int, int] | None:
    """The instants of the first and the last line of a log, as they are kept with it."""
    log = schema.log
    first, last = connection.execute(sa.select(log.c.first_us, log.c.last_us).where(log.c.id == log_id)).one()
    return None if first is None or last is None else (first, last)


def cursor_of(connection: sa.Connection, name: str) -> str | None:
    """The last entry that was read of a journal."""
    return connection.execute(sa.select(schema.log.c.cursor).where(schema.log.c.name == name)).scalar()


def count_lines(
    connection: sa.Connection,
    log_id: int,
    counts: Mapping[str, int],
    stamped: tuple[int, int] | None = None,
    **values: Any,
) -> None:
    """Adds lines to the counts of a log; `stamped` are the instants of the first and the last of them; further columns
    are set.
    """
    log = schema.log
    values |= {name: log.c[name] + count for name, count in counts.items()}
    if stamped is not None:
        first, last = stamped
        values["first_us"] = sa.case((log.c.first_us <= first, log.c.first_us), else_=first)
        values["last_us"] = sa.case((log.c.last_us >= last, log.c.last_us), else_=last)
    connection.execute(sa.update(log).where(log.c.id == log_id).values(**values))
