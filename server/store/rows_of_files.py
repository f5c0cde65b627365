"""Which rows were read of which files, and of those of an older version, which kept no file with a row."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from server.store import schema
from server.store.lines import LINE_KINDS

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
    #: check-point before, if there was one, and after
    pairs: list[tuple[ReadFile | None, ReadFile]] = field(default_factory=list)
    replaced: list[ReadFile] = field(default_factory=list)  #: whose rows go
    left: list[ReadFile] = field(default_factory=list)  #: whose files are gone: their rows stay


def since_of(connection: sa.Connection, part: Part, log_id: int) -> int | None:
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


def _stamps(connection: sa.Connection, log_id: int, files: Sequence[int]) -> npt.NDArray[np.int64]:
    table = schema.line_hour
    query = sa.select(table.c.hour, *(table.c[kind] for kind in LINE_KINDS)).where(table.c.log_id == log_id)
    parts = [
        hour + np.frombuffer(blob, dtype="<u4").astype(np.int64)
        for some in in_parts(files)
        for hour, *blobs in connection.execute(query.where(table.c.file_id.in_(some)))
        for blob in blobs
    ]
    return np.sort(np.concatenate(parts)) if parts else np.empty(0, dtype=np.int64)


def of_no_file(table: sa.Table, log_id: int, since: int | None) -> list[sa.ColumnElement[bool]]:
    """Rows of a log whose file is not known, from an instant on."""
    ours = [table.c.log_id == log_id, table.c.file_id.is_(None)]
    at = table.c[AT[table.name]]
    return ours if since is None else [*ours, sa.or_(at >= since, at.is_(None))]


def in_parts(ids: Sequence[int]) -> Iterator[Sequence[int]]:
    """So many at a time as a statement takes."""
    for at in range(0, len(ids), 500):
        yield ids[at : at + 500]
