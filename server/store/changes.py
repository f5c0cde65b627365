"""What reading files again changes, before it does."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import sqlalchemy as sa

from server.store import schema
from server.store.rows_of_files import Part, in_parts, of_no_file, since_of


@dataclass(frozen=True)
class Changes:
    """Of the files of one log."""

    overs: tuple[int, int]  #: finished ones, before and after
    lines: int  #: that were read now
    unread: tuple[int | None, int]  #: of these lines, before and after; None where that is not known
    elsewhere: int  #: finished overs that start at another instant than any did before


def changes(connection: sa.Connection, new: sa.Connection, part: Part) -> Changes:
    """What is different between what is replaced and what was read now."""
    ids, after = [row.id for row in part.replaced], [row.id for _, row in part.pairs]
    before = _finished(connection, ids) + sum(
        connection.execute(sa.select(sa.func.count()).where(*finished)).scalar_one()
        for finished in _finished_of_no_file(connection, part)
    )
    return Changes(
        overs=(before, _finished(new, after)),
        lines=sum(row.lines for _, row in part.pairs),
        unread=(_unread(connection, ids), _unread(new, after) or 0),
        elsewhere=overs_elsewhere(connection, new, part),
    )


def _finished(of: sa.Connection, files: list[int]) -> int:
    over = schema.over
    counted = sa.select(sa.func.count()).where(over.c.end.is_not(None))
    return sum(of.execute(counted.where(over.c.file_id.in_(some))).scalar_one() for some in in_parts(files))


def _finished_of_no_file(connection: sa.Connection, part: Part) -> Iterator[list[sa.ColumnElement[bool]]]:
    """The conditions of finished overs that are replaced and whose file is not known, by log."""
    for log_id in {row.log_id for row in part.replaced}:
        since = since_of(connection, part, log_id)
        yield [*of_no_file(schema.over, log_id, since), schema.over.c.end.is_not(None)]


def _unread(of: sa.Connection, files: list[int]) -> int | None:
    """None where an older version did not count them by file."""
    file = schema.file
    queries = (sa.select(file.c.unread).where(file.c.id.in_(some)) for some in in_parts(files))
    counts = [count for query in queries for count in of.execute(query).scalars()]
    return None if None in counts else sum(counts)


def overs_elsewhere(connection: sa.Connection, new: sa.Connection, part: Part) -> int:
    """How many finished overs start at another instant than in what is replaced: one after the other, where they are
    as many as before; else those that start where none did.
    """
    before = _starts(connection, [row.id for row in part.replaced])
    for finished in _finished_of_no_file(connection, part):
        before.update(connection.execute(sa.select(schema.over.c.start).where(*finished)).scalars())
    after = _starts(new, [row.id for _, row in part.pairs])
    if after.total() == before.total():
        ordered = zip(sorted(after.elements()), sorted(before.elements()), strict=True)
        return sum(start != was for start, was in ordered)
    return (after - before).total()


def _starts(of: sa.Connection, ids: list[int]) -> Counter[int]:
    over, starts = schema.over, Counter[int]()
    for some in in_parts(ids):
        rows = of.execute(sa.select(over.c.start).where(over.c.file_id.in_(some), over.c.end.is_not(None)))
        starts.update(rows.scalars())
    return starts
