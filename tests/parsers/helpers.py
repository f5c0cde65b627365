"""Small ways to put lines through a dialect written in a test."""

from pathlib import Path
from typing import Any

import polars as pl

from parsers.dialect import Dialect, load_dialect, reader
from parsers.reading import Carry, Reader, Reading


def write(folder: Path, text: str) -> Path:
    path = folder / "fell.toml"
    path.write_text(text, encoding="utf-8")
    return path


def dialect(folder: Path, lines: str, head: str = "", rest: str = "") -> Dialect:
    return load_dialect(write(folder, f'[dialect]\nname = "fell"\n{head}\n{rest}\n{lines}'))


def alive(folder: Path, head: str, text: str = "{t} well") -> Reader:
    """A dialect with one shape, for tests of stamps and envelopes."""
    return reader(dialect(folder, f"[[line]]\nevent = 'alive'\ntext = '{text}'", head))


def read(reads: Reader, *lines: str, carry: Carry | None = None, around_us: int = 0) -> Reading:
    return reads.read(pl.Series(list(lines), dtype=pl.String), carry or Carry(), around_us)


def as_dicts(events: pl.DataFrame) -> list[dict[str, Any]]:
    return [{k: v for k, v in row.items() if v is not None} for row in events.to_dicts()]
