"""No line stalls or stops a reader, whatever it holds."""

import time
import warnings
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parsers.dialect import find_dialect, reader, shipped_dialects
from parsers.reading import Carry, Reader
from shared.columns import EVENT_SCHEMA
from tests.parsers.helpers import dialect, read

NAMES = [*shipped_dialects(), "activity", "patterns", "journal", "json"]
PATTERNS = r"""
[[line]]
event = "alive"
pattern = '^(?P<station>(a+)+)(b|(?P<target>(a|aa)*))$'
[[line]]
event = "ignore"
pattern = '(x+x+)+y'
[[line]]
event = "alive"
text = "{_} {station} {_} {target} {_} end"
"""


@lru_cache
def reader_of(name: str) -> Reader:
    if name not in ("patterns", "journal", "json"):
        return find_dialect(name, Path(__file__).parent)
    with TemporaryDirectory() as folder:
        if name == "json":
            return reader(
                dialect(
                    Path(folder),
                    '[fields]\n"a" = "t"\n"b.c" = "mode"\n[[line]]\nevent = "alive"\nwhen = { d = "e" }',
                    'envelope = "json"',
                )
            )
        head = f'envelope = "{"syslog" if name == "patterns" else name}"'
        return reader(dialect(Path(folder), PATTERNS, head))


HOSTILE = [
    " " * 59_000 + "x",
    "a" * 60_000,
    "a" * 59_999 + "!",
    "x" * 60_000,
    "a " * 30_000,
    "Oct 11 22:14:15 h t: " + "a" * 60_000,
    "Oct 11 22:14:15 h t: " + "a " * 30_000,
    "2026-03-01T18:22:05Z RX " + "TS open > " * 6000,
    "{" * 60_000,
    "[" * 60_000,
    '{"t":' * 12_000,
    '{"t":"' + "\\" * 59_000,
    '"' * 60_000,
    "," * 60_000,
    '",' * 30_000,
    "<34>1 2003-10-11T22:14:15.003Z h a - - " + '[x y="' * 9_000,
    "9" * 60_000,
    "\0" * 60_000,
    "\ufffd" * 20_000,
    "é" * 30_000,
    '{"a":"b"},' * 6_000,
]


@pytest.mark.parametrize("name", NAMES)
def test_a_hostile_line_costs_time_in_proportion_to_its_length(name: str) -> None:
    reads = reader_of(name)
    for line in HOSTILE:
        cost = min(_seconds_to_read(reads, pl.Series([line] * 4)) for _ in range(2))
        # Work in the square of 60,000 characters, four times over, takes many seconds; linear work stays far below one.
        assert cost < 1.0, (line[:30], cost)


def _seconds_to_read(reads: Reader, lines: pl.Series) -> float:
    began = time.process_time()
    reads.read(lines, Carry(), 0)
    return time.process_time() - began


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=25, deadline=None)
@given(
    lines=st.lists(
        st.one_of(
            st.text(max_size=80),
            st.text(alphabet='{}[]":,\\ \tTZ0123456789<>%-abe', max_size=60),
            st.sampled_from(HOSTILE),
        ),
        max_size=8,
    )
)
def test_nothing_in_a_line_raises_and_every_line_gets_a_verdict(name: str, lines: list[str]) -> None:
    lines = [line.replace("\n", " ").encode(errors="replace").decode() for line in lines]
    reading = read(reader_of(name), *lines)
    assert len(reading.verdicts) == len(reading.stamps) == len(reading.stamped) == len(lines)
    assert dict(reading.events.schema) == EVENT_SCHEMA
    assert np.array_equal(np.flatnonzero(reading.verdicts == 0), reading.events["line"].to_numpy())
    assert reading.events["t"].null_count() == reading.events["event"].null_count() == 0


@pytest.mark.parametrize("name", NAMES)
def test_an_empty_batch_and_blank_lines_are_no_trouble(name: str) -> None:
    carry = Carry(last_us=5)
    assert read(reader_of(name), carry=carry).carry.last_us == 5
    reading = read(reader_of(name), "", "  \t", "\r", carry=carry)
    assert list(reading.verdicts) == [1, 1, 1] and list(reading.stamps) == [5, 5, 5] and reading.stamped.all()
    assert list(reader_of(name).read(pl.Series([None, ""], dtype=pl.String), Carry(), 0).verdicts) == [1, 1]


@pytest.mark.parametrize("name", ["brackenfell-a", "gimmer-rigg", "activity"])
def test_a_line_longer_than_64_kib_is_unread(name: str) -> None:
    assert list(read(reader_of(name), "2026-03-01T18:22:05Z DEBUG " + "x" * 65_536).verdicts) == [2]


def test_lengths_that_no_number_holds_are_wrong_without_a_warning() -> None:
    lines = [
        f'{{"t":"2026-11-21T10:00:00Z","event":"over","mode":"dmr","seconds":{one}}}'
        for one in ("9" * 5000, "1e308", "NaN", "1e999")
    ]
    for name in ("activity", "json"):
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            reader_of(name).read(pl.Series(lines), Carry(), 0)
    text = '[[line]]\nevent = "over"\ntext = "{t} {mode} {seconds}"'
    with TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("error")
        reads = reader(dialect(Path(folder), text))
        found = reads.read(
            pl.Series([f"2026-11-21T10:00:00Z dmr {one}" for one in ("9" * 300, "9" * 5000, "1e308", "NaN", "2.5")]),
            Carry(),
            0,
        )
    assert found.events["seconds"].drop_nulls().to_list() == [2.5]
