"""What was read of files before beside what was read of them now, row by row."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import polars as pl
import sqlalchemy as sa

from server.store import schema
from server.store.rows_of_files import Part, in_parts, of_no_file, since_of
from shared.zones import HOUR

Conditions = list[sa.ColumnElement[bool]]

CHUNK = 20_000  # rows at a time
QUARTER = HOUR // 4  # offsets of zones are whole quarters of an hour
COLUMNS = {"at": pl.Int64, "end": pl.Int64, "slot": pl.Int64}  # the others are text


@dataclass(frozen=True)
class Kind:
    """Rows that are compared: which they are, and the columns that make them others."""

    table: sa.Table
    at: sa.Column[int]
    those: sa.ColumnElement[bool]
    told: tuple[str, ...]
    order: tuple[str, ...] = ()  #: tells rows of one instant apart, besides `told`


OVERS = Kind(
    schema.over,
    schema.over.c.start,
    schema.over.c.end.is_not(None),
    ("slot", "station", "target", "side", "mode", "cause"),
    ("end",),
)
REFUSALS = Kind(schema.event, schema.event.c.t, schema.event.c.event == "refused", ("reason",), ("mode", "station"))


@dataclass(frozen=True)
class Compared:
    """Rows of one kind, before and after."""

    before: int
    after: int
    elsewhere: int  #: rows at another instant than any before
    changed: dict[str, int]  #: by column how many rows say something else there; those without a change are left out


def compared(connection: sa.Connection, new: sa.Connection, part: Part, kind: Kind) -> Compared:
    """Each row beside the one that it replaces: that of its instant; where a zone was mended, or rows are left over on
    both sides and as many, one after the other.
    """
    known = _of_files(kind, [row.id for row in part.replaced])
    before = _frame(connection, kind, [*known, *_of_no_file(connection, part, kind)])
    after = _frame(new, kind, _of_files(kind, [row.id for _, row in part.pairs]))
    pairs, elsewhere = _beside(before, after)
    counts = {name: int(pairs[name].ne_missing(pairs[f"{name}_new"]).sum()) for name in kind.told}
    return Compared(before.height, after.height, elsewhere, {name: many for name, many in counts.items() if many})


def _of_files(kind: Kind, ids: Sequence[int]) -> list[Conditions]:
    return [[kind.table.c.file_id.in_(some)] for some in in_parts(ids)]


def _of_no_file(connection: sa.Connection, part: Part, kind: Kind) -> Iterator[Conditions]:
    """Of rows that are replaced and whose file is not known, by log."""
    for log_id in {row.log_id for row in part.replaced}:
        yield of_no_file(kind.table, log_id, since_of(connection, part, log_id))


def _frame(of: sa.Connection, kind: Kind, conditions: Sequence[Conditions]) -> pl.DataFrame:
    """The rows in order of time, each with its place among those of its instant."""
    names = [*kind.order, *kind.told]
    types = {name: COLUMNS.get(name, pl.String) for name in ("at", *names)}
    parts = [pl.DataFrame(schema=types)]
    for those in conditions:
        found = of.execute(sa.select(kind.at, *(kind.table.c[name] for name in names)).where(kind.those, *those))
        parts += [pl.DataFrame([tuple(row) for row in rows], types, orient="row") for rows in found.partitions(CHUNK)]
    ordered = pl.concat(parts).sort("at", *names)
    return ordered.with_columns(nth=pl.int_range(pl.len()).over("at"))


def _beside(before: pl.DataFrame, after: pl.DataFrame) -> tuple[pl.DataFrame, int]:
    """The rows side by side, the new ones' columns with `_new`; and how many of the new are at another instant."""
    if before.height == after.height:
        moved = after["at"] - before["at"]
        if (moved % QUARTER == 0).all():
            return _one_by_one(before, after), int((moved != 0).sum())
    key = ["at", "nth"]
    gone, come = before.join(after, on=key, how="anti"), after.join(before, on=key, how="anti")
    pairs = before.join(after, on=key, how="inner", suffix="_new").drop(key)
    if gone.height == come.height:
        pairs = pl.concat([pairs, _one_by_one(gone.sort("at"), come.sort("at")).select(pairs.columns)])
    return pairs, come.height


def _one_by_one(before: pl.DataFrame, after: pl.DataFrame) -> pl.DataFrame:
    return pl.concat([before, after.rename(lambda name: f"{name}_new")], how="horizontal")
