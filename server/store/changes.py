"""What reading files again changes, before it does."""

from dataclasses import dataclass

import sqlalchemy as sa

from server.store import schema
from server.store.compared import OVERS, REFUSALS, compared
from server.store.rows_of_files import Part, in_parts


@dataclass(frozen=True)
class Changes:
    """Of the files of one log."""

    overs: tuple[int, int]  #: finished ones, before and after
    lines: int  #: that were read now
    unread: tuple[int | None, int]  #: of these lines, before and after; None where that is not known
    elsewhere: int  #: finished overs that start at another instant than any did before
    another: dict[str, int]  #: finished overs that get another mode, slot, ..., by column
    reasons: int  #: refusals that get another reason


def changes(connection: sa.Connection, new: sa.Connection, part: Part) -> Changes:
    """What is different between what is replaced and what was read now."""
    overs, refusals = (compared(connection, new, part, kind) for kind in (OVERS, REFUSALS))
    return Changes(
        overs=(overs.before, overs.after),
        lines=sum(row.lines for _, row in part.pairs),
        unread=(
            _unread(connection, [row.id for row in part.replaced]),
            _unread(new, [row.id for _, row in part.pairs]) or 0,
        ),
        elsewhere=overs.elsewhere,
        another=overs.changed,
        reasons=refusals.changed.get("reason", 0),
    )


def _unread(of: sa.Connection, files: list[int]) -> int | None:
    """None where an older version did not count them by file."""
    file = schema.file
    queries = (sa.select(file.c.unread).where(file.c.id.in_(some)) for some in in_parts(files))
    counts = [count for query in queries for count in of.execute(query).scalars()]
    return None if None in counts else sum(counts)
