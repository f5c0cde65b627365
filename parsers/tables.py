"""Envelopes that are tables: csv with its header line, and JSON objects."""

import csv
from collections.abc import Mapping, Sequence

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
    found = []
    for row in likely:
        names = cells(lines[row], separator)
        if names is not None and set(wanted) <= set(names):
            found.append((row, tuple(names)))
    return found


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
    slow: dict[str, list[str | None]] = {name: [] for name in wanted}
    rows = quoted.arg_true()
    right = []
    for line in lines.gather(rows):
        row = cells(line, separator)
        right.append(row is not None and len(row) == len(header))
        for name, i in at.items():
            slow[name].append(row[i] if row is not None and len(row) == len(header) else None)
    values = values.with_columns(values[name].scatter(rows, pl.Series(slow[name], dtype=pl.String)) for name in wanted)
    return values, fits.scatter(rows, right)


def choose(values: pl.DataFrame, whens: Sequence[Mapping[str, str]]) -> pl.Series:
    """The index of the first `when` that a row meets, null where it meets none."""
    chosen = pl.lit(None, dtype=pl.UInt8)
    for i in range(len(whens) - 1, -1, -1):
        met = pl.all_horizontal([pl.lit(True), *((pl.col(k) == v).fill_null(False) for k, v in whens[i].items())])
        chosen = pl.when(met).then(pl.lit(i, dtype=pl.UInt8)).otherwise(chosen)
    return values.with_columns(chosen.alias("shape"))["shape"]
