"""A stream of bytes in blocks of whole lines."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from server.intake.unpacking import Stream, read_until_damage

MOST_LINES = 1 << 18  # of a block: 8 MiB of lines of 32 bytes


@dataclass(frozen=True)
class Block:
    """Some whole lines of a file."""

    data: bytes  #: the lines, with their line ends
    passed: bytes  #: what was passed over before them: the rest of an overlong line
    offset: int  #: of the first byte after the block
    skipping: bool  #: the block ends inside a line that is too long to hold
    final: bool  #: the file ended here


def blocks(stream: Stream, offset: int, block_bytes: int, *, skipping: bool, ended: bool) -> Iterator[Block]:
    """Whole lines from the stream's place on, about `block_bytes` at a time, and MOST_LINES at most.

    A last line without its end is left for the next time, unless the file has `ended`. Of a line longer than a block
    the first block is given as a line (a reader calls it unread), and the rest passed over. What a damaged packing
    still gave is given before its error is raised."""
    rest = b""
    while True:
        data, trouble = read_until_damage(stream, block_bytes)
        last = len(data) < block_bytes
        final = last and trouble is None
        passed = b""
        if skipping:
            passed, data = _passed_over(data)
            offset += len(passed)
            skipping = not passed.endswith(b"\n")
        whole, rest, overlong = _whole_lines(rest + data, block_bytes, to_the_end=final and ended)
        skipping |= overlong
        if whole or passed:
            yield from _blocks_of(whole, passed, offset, skipping, final)
            offset += len(whole)
        if trouble:
            raise trouble
        if last:
            return


def _passed_over(data: bytes) -> tuple[bytes, bytes]:
    """The rest of an overlong line, as far as it is there, and what follows it."""
    cut = data.find(b"\n") + 1 or len(data)
    return data[:cut], data[cut:]


def _whole_lines(data: bytes, block_bytes: int, *, to_the_end: bool) -> tuple[bytes, bytes, bool]:
    """The whole lines, what is left of the last one, and whether they are one line that is too long to hold."""
    cut = len(data) if to_the_end else data.rfind(b"\n") + 1
    if cut == 0 and len(data) >= block_bytes:
        return data, b"", True
    return data[:cut], data[cut:], False


def _blocks_of(whole: bytes, passed: bytes, offset: int, skipping: bool, final: bool) -> Iterator[Block]:
    parts = list(_by_lines(whole))
    for number, part in enumerate(parts, start=1):
        offset += len(part)
        is_last = number == len(parts)
        yield Block(part, passed, offset, skipping and is_last, final and is_last)
        passed = b""


def _by_lines(data: bytes) -> Iterator[bytes]:
    """What was read, in parts of MOST_LINES lines: what is kept of a line while it is read is more than a short one
    takes.
    """
    start = 0
    if data.count(b"\n") > MOST_LINES:
        for end in np.flatnonzero(np.frombuffer(data, dtype=np.uint8) == ord("\n"))[MOST_LINES - 1 :: MOST_LINES] + 1:
            yield data[start:end]
            start = int(end)
    if start < len(data) or not data:
        yield data[start:]
