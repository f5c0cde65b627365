"""Blocks of a log, parsed: what there is to be stored of each."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import polars as pl

from parsers.reading import Carry, Reader, Reading
from server.intake.files import Block
from shared.events import UNREAD

SEPARATORS = "\x1f\x1e\x1d\x1c\x01\x02\x03\x04"  # one of them seldom stands in a log
QUICK_BYTES = 1 << 16
BOM = "\ufeff".encode()


@dataclass(frozen=True)
class Piece:
    """A block of a file, parsed."""

    block: Block
    reading: Reading
    unread: list[str]  #: the lines that nothing matched, in their order


def parsed(blocks: Iterable[Block], reader: Reader, carry: Carry, around_us: int) -> Iterator[Piece]:
    """The pieces of one file. `carry` and `around_us`: see parsers.reading.Reader."""
    for block in blocks:
        lines = split_lines(block.data)
        reading = reader.read(lines, carry, around_us)
        carry = reading.carry
        yield Piece(block, reading, lines.gather(np.flatnonzero(reading.verdicts == UNREAD)).to_list())


def split_lines(data: bytes) -> pl.Series:
    """The lines of a block, without line ends; what is not UTF-8 becomes U+FFFD."""
    if not data:
        return pl.Series([], dtype=pl.String)
    if not data.isascii():
        try:
            data.decode()
        except UnicodeDecodeError:
            data = data.decode("utf-8", "replace").encode()
    absent = next((mark for mark in SEPARATORS if mark.encode() not in data), None)
    if absent is None or b"\r" in data or data.startswith(BOM) or len(data) < QUICK_BYTES:
        lines = pl.Series([data.decode().removesuffix("\n")]).str.split("\n").explode()
        return lines.str.strip_suffix("\r") if b"\r" in data else lines
    # Read as a table of one column, which is quicker.
    table = pl.read_csv(data, separator=absent, quote_char=None, has_header=False, schema={"line": pl.String})
    return table["line"].fill_null("")
