"""Frames into the store, inside the caller's transaction."""

from typing import Any

import polars as pl
import sqlalchemy as sa

from server.store.writes import insert_many, insert_rows

NO_INTEGER, NO_TEXT = -(1 << 62), "\ufffe"  # stand for null on the way into SQLite; no instant, id or text is either


def insert_frame(connection: sa.Connection, table: sa.Table, frame: pl.DataFrame, **constants: int | None) -> None:
    """A frame whose columns are named as the table's, the first one without nulls; constants fill further columns."""
    if not frame.height:
        return
    if connection.dialect.name != "sqlite":
        whole = frame.with_columns(pl.lit(value).alias(name) for name, value in constants.items())
        insert_rows(connection, table, whole.columns, whole.rows())
        return
    columns = {name: str(value) for name, value in constants.items() if value is not None}
    varied = []
    for at, column in enumerate(frame.get_columns()):
        filled, sql = _without_none(column)
        if at and sql == "?" and filled.dtype.is_integer() and filled.min() == filled.max():
            columns[column.name] = str(filled[0])  # the same in every row: it stands in the statement
        elif column.null_count() < len(column):
            varied.append((filled, sql))
    columns |= {column.name: sql for column, sql in varied}
    values: list[Any] = [None] * (frame.height * len(varied))
    for at, (column, _) in enumerate(varied):
        values[at :: len(varied)] = column.to_list()
    insert_many(connection, table, columns, values)


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
