"""Frames into the store, inside the caller's transaction."""

from typing import Any

import polars as pl
import sqlalchemy as sa

from server.store.writes import insert_many, insert_rows

NO_INTEGER, NO_TEXT = -(1 << 62), "\ufffe"  # stand for null on the way into SQLite; no instant, id or text is either


def insert_frame(connection: sa.Connection, table: sa.Table, frame: pl.DataFrame, **constants: Any) -> None:
    """A frame whose columns are named as the table's; constants fill further columns."""
    if not frame.height:
        return
    filled = frame.with_columns(pl.lit(value).alias(name) for name, value in constants.items())
    if connection.dialect.name != "sqlite":
        insert_rows(connection, table, filled.columns, filled.rows())
        return
    columns = [_without_none(column) for column in filled.get_columns() if column.null_count() < len(column)]
    holes = [hole for _, hole in columns]
    rows = list(zip(*(column.to_list() for column, _ in columns), strict=True))
    insert_many(connection, table, [column.name for column, _ in columns], holes, rows)


def _without_none(column: pl.Series) -> tuple[pl.Series, str]:
    """The column with a stand-in for null, and the SQL that turns the stand-in back: the driver takes a slow way round for each None."""
    if column.dtype == pl.Boolean:
        column = column.cast(pl.Int8)
    if not column.null_count():
        return column, "?"
    if column.dtype.is_float():
        return column.fill_null(float("nan")), "?"  # SQLite stores it as NULL
    if column.dtype.is_integer():
        return column.cast(pl.Int64).fill_null(NO_INTEGER), f"NULLIF(?, {NO_INTEGER})"
    return column.cast(pl.String).fill_null(NO_TEXT), f"NULLIF(?, '{NO_TEXT}')"
