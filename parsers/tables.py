"""Envelopes that are tables: csv with its header line, and JSON objects."""

import csv
from collections.abc import Mapping, Sequence

import numpy as np
import polars as pl


def cells(line: str, separator: str) -> list[str] | None:
    """The cells of one csv line, trimmed (RFC 4180's quotes); None where its quotes are not closed."""
    try:
        row = next(csv.reader([line], delimiter=separator, strict=True), [])
    except csv.Error:
        return None
    return [cell.strip() for cell in row]


def header_rows(lines: pl.Series, wanted: Sequence[str], separator: str) -> list[tuple[int, tuple[str, ...]]]:
    """The header lines among lines: those with all the wanted names in their cells; (row, names)."""
    likely = pl.int_range(len(lines), eager=True)
    for name in wanted:
        likely = likely.filter(lines.gather(likely).str.contains(name, literal=True))
    headers = []
    for row in likely:
        names = cells(lines[row], separator)
        if names is not None and set(wanted) <= set(names):
            headers.append((row, tuple(names)))
    return headers


def read_csv(
    lines: pl.Series, header: Sequence[str], wanted: Sequence[str], separator: str
) -> tuple[pl.DataFrame, pl.Series]:
    """The wanted columns (n rows of String) and which lines have as many cells as the header."""
    quoted = lines.str.contains('"', literal=True)
    fits = (lines.str.count_matches(separator, literal=True) == len(header) - 1) & ~quoted
    at = {name: header.index(name) for name in wanted}
    split = lines.str.split_exact(separator, len(header) - 1).struct.unnest()
    values = split.select(pl.col(f"field_{i}").str.strip_chars().alias(name) for name, i in at.items())
    if not quoted.any():
        return values, fits
    rows = quoted.arg_true()
    read = [_row(line, len(header), separator) for line in lines.gather(rows)]
    slow = {
        name: pl.Series([row[i] if row is not None else None for row in read], dtype=pl.String)
        for name, i in at.items()
    }
    values = values.with_columns(values[name].scatter(rows, slow[name]) for name in wanted)
    return values, fits.scatter(rows, [row is not None for row in read])


def _row(line: str, width: int, separator: str) -> list[str] | None:
    """The cells of a line that has so many."""
    row = cells(line, separator)
    return row if row is not None and len(row) == width else None


def read_under_headers(
    lines: pl.Series,
    brought: tuple[str, ...] | None,
    heads: Sequence[tuple[int, tuple[str, ...]]],
    wanted: Sequence[str],
    separator: str,
) -> tuple[pl.DataFrame, pl.Series]:
    """The wanted columns of lines (n,) that stand under headers, and which lines are rows: under the header that was
    `brought` along from the lines before, if any, then under those among the lines, (row, names). A header is one line
    of many files, so lines are read by header and not by stretch.
    """
    begins = np.zeros(len(lines), dtype=np.int64)
    begins[[row for row, _ in heads]] = 1
    headers = [*([] if brought is None else [brought]), *(names for _, names in heads)]
    under = np.cumsum(begins) - (brought is None)  # -1: no header so far, nobody knows what their columns mean
    number = {names: i for i, names in enumerate(dict.fromkeys(headers))}
    alike = np.array([number[names] for names in headers] + [-1], dtype=np.int64)[under]
    lost = np.flatnonzero(alike < 0)
    empty = pl.Series([None], dtype=pl.String).new_from_index(0, len(lost))
    places = [lost]
    values = [pl.DataFrame({name: empty for name in wanted})]
    fine = [pl.Series([False], dtype=pl.Boolean).new_from_index(0, len(lost))]
    for names, i in number.items():
        at = np.flatnonzero(alike == i)
        columns, fits = read_csv(lines.gather(at), names, wanted, separator)
        places.append(at)
        values.append(columns)
        fine.append(fits)
    order = np.argsort(np.concatenate(places))
    return pl.concat(values)[order], pl.concat(fine).gather(order)


def with_own_fields(
    frame: pl.DataFrame, values: pl.DataFrame, rows: pl.Series, own: Mapping[str, str], fields: Mapping[str, str]
) -> pl.DataFrame:
    """The frame with what columns mean in some rows alone, where [fields] says something else of them or nothing."""
    none = pl.lit(None, dtype=pl.String)
    emptied = [fields[theirs] for theirs in own if theirs in fields and fields[theirs] not in own.values()]
    frame = frame.with_columns(pl.when(rows).then(none).otherwise(pl.col(key)).alias(key) for key in emptied)
    given = []
    for theirs, ours in own.items():
        before = pl.col(ours) if ours in frame.columns else none
        given.append(pl.when(rows).then(values[theirs]).otherwise(before).alias(ours))
    return frame.with_columns(given)


def choose(values: pl.DataFrame, whens: Sequence[Mapping[str, str]]) -> pl.Series:
    """The index of the first `when` that a row meets, null where it meets none."""
    chosen = pl.lit(None, dtype=pl.UInt8)
    for i in range(len(whens) - 1, -1, -1):
        met = pl.all_horizontal([pl.lit(True), *((pl.col(k) == v).fill_null(False) for k, v in whens[i].items())])
        chosen = pl.when(met).then(pl.lit(i, dtype=pl.UInt8)).otherwise(chosen)
    return values.with_columns(chosen.alias("shape"))["shape"]
