"""Blocks parsed ahead: in their order, with what came before, and no further than asked."""

import os
import time
from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest

from parsers.dialect import find_dialect
from parsers.reading import Carry
from server.intake import batches
from server.intake.blocks import Block

SCAR = (Path(__file__).parents[2] / "sample_logs" / "scar-csv.log").read_bytes()
SYSLOG = (
    b"2026-03-01T18:22:05.120Z RX DMR TS1 open 9990123 > 99901\njunk\n2026-03-01T18:22:17.520Z RX DMR TS1 shut 9990123"
    b" after 12.4s, errors 0.3%, level -97 dBm: key let go\n"
)


def cut(data: bytes, lines: int) -> Iterator[Block]:
    """Blocks of so many lines."""
    rows, offset = data.splitlines(keepends=True), 0
    for low in range(0, len(rows), lines):
        block = b"".join(rows[low : low + lines])
        offset += len(block)
        yield Block(block, b"", offset, False, low + lines >= len(rows))


@pytest.mark.parametrize(("dialect", "data"), [("scar-csv", SCAR), ("brackenfell-a", SYSLOG * 20)])
@pytest.mark.parametrize("lines", [1, 2, 5, 1000])
def test_a_log_in_blocks_says_what_it_says_as_a_whole(dialect: str, data: bytes, lines: int) -> None:
    reader = find_dialect(dialect, Path())
    whole = reader.read(batches.split_lines(data), Carry(), 0)
    found = list(batches.parsed(cut(data, lines), reader, Carry(), 0))
    columns = [column for column in whole.events.columns if column != "line"]
    assert pl.concat([batch.reading.events for batch in found]).select(columns).equals(whole.events.select(columns))
    assert [verdict for batch in found for verdict in batch.reading.verdicts] == list(whole.verdicts)
    assert found[-1].reading.carry == whole.carry
    assert [batch.block.offset for batch in found] == [block.offset for block in cut(data, lines)]


def test_what_a_block_leaves_unread_comes_with_it() -> None:
    reader = find_dialect("brackenfell-a", Path())
    assert [batch.unread for batch in batches.parsed(cut(SYSLOG, 2), reader, Carry(), 0)] == [["junk"], []]


def test_a_file_that_breaks_off_gives_what_came_before_and_then_its_trouble() -> None:
    def broken() -> Iterator[Block]:
        yield from cut(SYSLOG * 3, 3)
        raise EOFError("it breaks off")

    found = []
    with pytest.raises(EOFError, match="breaks off"):
        for batch in batches.parsed(broken(), find_dialect("brackenfell-a", Path()), Carry(), 0):
            found.append(batch)
    assert len(found) == 3


def test_whoever_stops_early_leaves_no_thread_and_has_read_little_ahead() -> None:
    asked = 0

    def many() -> Iterator[Block]:
        nonlocal asked
        for block in cut(SYSLOG * 200, 3):
            asked += 1
            yield block

    read = batches.parsed(many(), find_dialect("brackenfell-a", Path()), Carry(), 0)
    next(read)
    time.sleep(0.2)
    read.close()
    assert asked <= 2 * batches.PARSERS + 2


@pytest.mark.parametrize(
    ("memory", "block"), [(256 << 20, 1 << 20), (1 << 30, 2 << 20), (8 << 30, 8 << 20), (64 << 30, 8 << 20)]
)
def test_a_block_follows_the_memory_of_the_machine(monkeypatch: pytest.MonkeyPatch, memory: int, block: int) -> None:
    monkeypatch.setattr(os, "sysconf", lambda name: {"SC_PAGE_SIZE": 4096, "SC_PHYS_PAGES": memory // 4096}[name])
    assert batches.bytes_of_a_block() == block
