"""Blocks of a log, parsed: what there is to be stored of each."""

import os
from collections import deque
from collections.abc import Callable, Generator, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from itertools import chain
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt
import polars as pl

from parsers.constants import BLANKS
from parsers.reading import Carry, Reader, Reading
from server.intake.blocks import Block
from shared.events import IGNORED, UNREAD

SEPARATORS = "\x1f\x1e\x1d\x1c\x01\x02\x03\x04"  # one of them seldom stands in a log
QUICK_BYTES = 1 << 16
BOM = "\ufeff".encode()
MOST_BYTES = 8 << 20  # of a block; larger ones take more memory and are no quicker
MEMORY_SHARE = 512  # a machine's memory to a block; many times a block is in use while blocks are read
PARSERS = min(2, os.cpu_count() or 1)  # threads; one stores besides, and is the slower one with more

Done = TypeVar("Done")


@dataclass(frozen=True)
class Batch:
    """A block of a file, parsed."""

    block: Block
    reading: Reading
    unread: list[str]  #: the lines that nothing matched, in their order
    blank: npt.NDArray[np.intp] | None = None  #: the places of lines that hold nothing


def bytes_of_a_block() -> int:
    """How much is read at a time on this machine."""
    has_pages = "SC_PHYS_PAGES" in getattr(os, "sysconf_names", {})  # not on every system
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") if has_pages else MEMORY_SHARE * MOST_BYTES
    return max(1 << 20, min(MOST_BYTES, memory // MEMORY_SHARE))


def parsed(blocks: Iterator[Block], reader: Reader, carry: Carry, around_us: int) -> Generator[Batch]:
    """The batches of one file, of which the next ones are being parsed while one is used. `carry` and `around_us`: see
    parsers.reading.Reader. Raises what `blocks` raises, after the batches before it.
    """
    for block, (lines, matched) in _matched_blocks(blocks, reader):
        reading = reader.resolve(matched, carry, around_us)
        carry = reading.carry
        unread = lines.gather(np.flatnonzero(reading.verdicts == UNREAD)).to_list()
        yield Batch(block, reading, unread, _blank(lines, reading))


def _matched_blocks(blocks: Iterator[Block], reader: Reader) -> Iterator[tuple[Block, tuple[pl.Series, Any]]]:
    first = next(blocks, None)
    if first is None:
        return
    if first.final:  # threads cost more than they save: a small file, or the newest lines of one that is followed
        yield first, _matched(reader, first.data)
        return
    for block, coming in _ahead(chain([first], blocks), lambda block: _matched(reader, block.data)):
        yield block, coming.result()


def _blank(lines: pl.Series, reading: Reading) -> npt.NDArray[np.intp]:
    ignored = np.flatnonzero(reading.verdicts == IGNORED)
    blank: npt.NDArray[np.bool_] = (lines.gather(ignored).str.strip_chars(BLANKS).str.len_bytes() == 0).to_numpy()
    return ignored[blank]


def _matched(reader: Reader, data: bytes) -> tuple[pl.Series, Any]:
    lines = split_lines(data)
    return lines, reader.match(lines)


def _ahead(blocks: Iterator[Block], work: Callable[[Block], Done]) -> Generator[tuple[Block, Future[Done]]]:
    """Each block and the work on it, which runs in PARSERS threads; another one reads."""
    trouble: Exception | None = None
    under_way: deque[tuple[Block, Future[Done]]] = deque()
    with ThreadPoolExecutor(1) as disk, ThreadPoolExecutor(PARSERS) as pool:
        coming = disk.submit(next, blocks, None)
        while True:
            while len(under_way) < PARSERS and trouble is None:
                try:
                    block = coming.result()
                except Exception as error:
                    trouble = error
                    break
                if block is None:
                    break
                coming = disk.submit(next, blocks, None)
                under_way.append((block, pool.submit(work, block)))
            if not under_way:
                break
            yield under_way.popleft()
    if trouble:
        raise trouble


def _as_utf8(data: bytes) -> bytes:
    if not data.isascii():
        try:
            data.decode()
        except UnicodeDecodeError:
            return data.decode("utf-8", "replace").encode()
    return data


def split_lines(data: bytes) -> pl.Series:
    """The lines of a block, without line ends; what is not UTF-8 becomes U+FFFD."""
    if not data:
        return pl.Series([], dtype=pl.String)
    data = _as_utf8(data)
    absent = next((mark for mark in SEPARATORS if mark.encode() not in data), None)
    if absent is None or b"\r" in data or data.startswith(BOM) or len(data) < QUICK_BYTES:
        lines = pl.Series([data.decode().removesuffix("\n")]).str.split("\n").explode()
        return lines.str.strip_suffix("\r") if b"\r" in data else lines
    # Read as a table of one column, which is quicker.
    table = pl.read_csv(data, separator=absent, quote_char=None, has_header=False, schema={"line": pl.String})
    return table["line"].fill_null("")
