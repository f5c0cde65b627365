"""Tables into files that the keeper's own tools read."""

import csv
import io
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, TypeVar

import polars as pl
from tqdm import tqdm

from server.analytics.over_rows import over_frame
from server.cli.made_files import write_made
from server.config import Station
from server.report.nameless import nameless
from shared.csvcells import safe_cell

One = TypeVar("One")


def progress(items: Iterable[One], what: str, many: int | None = None) -> Iterator[One]:
    """The same, with a bar on a terminal."""
    yield from tqdm(items, total=many, desc=what, unit="", disable=None, leave=False)


def csv_text(rows: list[dict[str, Any]]) -> str:
    """A header line and a line a row; nothing in a cell acts in a spreadsheet, what is not known is empty."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    if rows:
        writer.writerow(rows[0])
    writer.writerows(map(safe_cell, row.values()) for row in rows)
    return out.getvalue()


def parquet_bytes(frame: pl.DataFrame) -> bytes:
    out = io.BytesIO()
    frame.write_parquet(out)
    return out.getvalue()


def is_csv_of_figures(found: bytes) -> bool:
    """Whether a file's content begins as `csv_text` of figures does."""
    return found.startswith(b"repeater,window.from,window.to,")


def is_parquet(found: bytes) -> bool:
    """By the four bytes at both ends: https://parquet.apache.org/docs/file-format/"""
    return found.startswith(b"PAR1") and found.endswith(b"PAR1")


def write_overs(file: Path, rows: list[dict[str, Any]], station: Station, with_names: bool) -> int:
    """Overs as a Parquet file, without what names people unless that was asked for; how many there are."""
    frame = over_frame(rows, station.zone)
    if not with_names:
        frame = nameless(frame, station.repeater.callsign)
    write_made(file, parquet_bytes(frame))
    return frame.height
