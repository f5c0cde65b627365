"""Activity lines against a plain reading of the contract with json.loads, line by line."""

import datetime as dt
import json
import math
import re
from typing import Any

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parsers.activity import ActivityReader
from parsers.reading import Carry
from shared.events import CAUSES, EVENTS, MODES, REASONS, SIDES
from tests.parsers.helpers import as_dicts, read

READER = ActivityReader()
T = "2026-03-01T18:22:05.120Z"
WORDS = {"mode": MODES, "side": SIDES, "cause": CAUSES, "reason": REASONS}


def no_constant(name: str) -> None:
    raise ValueError(name)


def twin(line: str) -> dict[str, Any] | None:
    """The event of a line as the contract has it, None where the line is unread. Slow and plain."""
    try:
        said = json.loads(line, parse_constant=no_constant)
    except (ValueError, RecursionError):
        return None
    if not isinstance(said, dict):
        return None
    said = {k: v for k, v in said.items() if v is not None}
    if not isinstance(said.get("t"), str) or said.get("event") not in EVENTS:
        return None
    if not re.fullmatch(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d:\d\d(\.\d+)?([Zz]|[+-]\d\d:\d\d)", said["t"], re.ASCII):
        return None
    try:
        moment = dt.datetime.fromisoformat(said["t"].upper())
    except ValueError:
        return None
    if not 1900 <= moment.astimezone(dt.UTC).year < 2200:
        return None
    event: dict[str, Any] = {
        "t": (moment - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(microseconds=1),
        "event": said["event"],
    }
    for key, words in WORDS.items():
        if key in said:
            if said[key] not in words:
                return None
            event[key] = said[key]
    for key in ("station", "target", "network"):
        if key in said:
            text = said[key]
            if not isinstance(text, str) or len(text) > 64 or "\0" in text or re.search("[\ud800-\udfff]", text):
                return None
            if text:
                event[key] = text
    for key, low, high in (
        ("slot", 1, 2),
        ("seconds", 0, 604_800),
        ("ber_pct", 0, 100),
        ("loss_pct", 0, 100),
        ("rssi_dbm", -1e6, 1e6),
    ):
        if key in said:
            number = said[key]
            if (
                isinstance(number, bool)
                or not isinstance(number, int | float)
                or not low <= number <= high
                or not math.isfinite(number)
            ):
                return None
            if key == "slot" and number not in (1, 2):
                return None
            event[key] = number
    return None if event["event"] == "over" and "seconds" not in event else event


def check(lines: list[str]) -> None:
    reading = read(READER, *lines)
    got = {event.pop("line"): event for event in as_dicts(reading.events)}
    for i, line in enumerate(lines):
        wanted = twin(line)
        assert got.get(i) == wanted, line
        assert reading.verdicts[i] == (1 if not line.strip(" \t\r\n") else 2 if wanted is None else 0), line


SCALARS: st.SearchStrategy[Any] = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 10),
    st.integers(),
    st.floats(),
    st.floats(-1, 200),
    st.text(max_size=70),
    st.sampled_from(
        [
            "",
            "x" * 64,
            "x" * 65,
            "é" * 64,
            "\ud800",
            "a\0b",
            '"t":',
            "\\",
            "\t",
            1e999,
            10**400,
            604_800,
            604_800.001,
            1,
            2,
            1.0,
            1.5,
            "1",
        ]
    ),
)
STAMPS = st.sampled_from(
    [
        T,
        "2026-03-01T18:22:05+01:00",
        "2026-03-01 18:22:05z",
        "2026-03-01T18:22:05",
        "2026-03-01",
        "2026-02-30T00:00:00Z",
        "0001-01-01T00:00:00Z",
        T + " ",
    ]
)
KEYS = st.sampled_from(
    [
        "mode",
        "side",
        "slot",
        "station",
        "target",
        "seconds",
        "cause",
        "reason",
        "ber_pct",
        "loss_pct",
        "rssi_dbm",
        "network",
        "x",
        "T",
    ]
)
RIGHT = st.fixed_dictionaries(
    {"t": st.just(T), "event": st.sampled_from(EVENTS)},
    optional={
        "mode": st.sampled_from(MODES),
        "side": st.sampled_from(SIDES),
        "slot": st.sampled_from([1, 2]),
        "station": st.sampled_from(["QA1XYZ", "é"]),
        "seconds": st.one_of(st.integers(0, 200), st.floats(0, 600_000)),
        "cause": st.sampled_from(CAUSES),
        "rssi_dbm": st.floats(-130, 0),
    },
)
OBJECTS = st.one_of(
    RIGHT,
    st.builds(lambda a, b: a | b, RIGHT, st.dictionaries(KEYS, SCALARS, max_size=3)),
    st.builds(lambda a, t: a | {"t": t}, RIGHT, st.one_of(STAMPS, SCALARS)),
    st.builds(lambda a, e: a | {"event": e}, RIGHT, SCALARS),
    st.dictionaries(
        st.sampled_from(["t", "event", "x"]),
        st.recursive(SCALARS, lambda inner: st.lists(inner, max_size=2), max_leaves=3),
    ),
)
LINES = st.one_of(
    st.builds(
        lambda o, ascii, tight: json.dumps(o, ensure_ascii=ascii, separators=(",", ":") if tight else None),
        OBJECTS,
        st.booleans(),
        st.booleans(),
    ).map(lambda line: line.encode(errors="replace").decode()),
    st.text(max_size=40).filter(lambda text: "\n" not in text and "\r" not in text and not text.startswith("\ufeff")),
    st.sampled_from(
        [
            "",
            "   ",
            "null",
            "[]",
            "{}",
            "{",
            "NaN",
            '{"t": NaN}',
            "[" * 50_000,
            '{"a":' * 5000,
            f'{{"t": "{T}", "event": "alive"',
        ]
    ),
)


@settings(max_examples=120, deadline=None)
@given(st.lists(LINES, max_size=12))
def test_every_lines_verdict_and_event_are_those_of_a_plain_reading(lines: list[str]) -> None:
    check(lines)


@pytest.mark.parametrize(
    "line",
    [
        f'{{"t":"{T}","event":"alive","event":"refused"}}',
        f'{{"t":"{T}","t":"x","event":"alive"}}',
        f'{{"t":"x","t":"{T}","event":"alive"}}',
        f'{{"t":"{T}","event":"alive","slot":null,"slot":1}}',
        f'{{"t":"{T}","event":"alive","slot":1,"slot":null}}',
        f'{{"t":"{T}","event":"alive","x":{{"event":"nope","t":1}}}}',
        f'{{"t":"{T}","event":"alive","x":"\\"t\\":\\"y\\""}}',
        f'{{"t":"{T}","event":"alive","a\\"t":"y"}}',
        f'{{"\\u0074":"{T}","event":"alive"}}',
        f'{{"t":"{T}","event":"al\\u0069ve"}}',
        f'{{"t":"{T}","event":"alive","slot":true}}',
        f'{{"t":"{T}","event":"alive","station":5}}',
        f'{{"t":"{T}","event":"alive","seconds":"5"}}',
        f'{{"t":"{T}","event":"alive","seconds":1e2}}',
        f'{{"t":"{T}","event":"alive","seconds":1e999}}',
        f'{{"t":"{T}","event":"alive","seconds":-0.0}}',
        f'{{"t":"{T}","event":"alive","seconds":{"9" * 5000}}}',
        f'{{"t":"{T}","event":"alive","x":{"9" * 5000}}}',
        f'{{"t":"{T}","event":"alive","x":NaN}}',
        f'{{"t":"{T}","event":"alive","station":"\\ud800"}}',
        f'{{"t":"{T}","event":"alive","x":"\\ud800"}}',
        f'{{"t":"{T}","event":"alive",}}',
        f'{{"t":"{T}","event":"alive"}} x',
        f'{{"t":"{T}","event":"alive","ber_pct":100.0001}}',
        f'{{"t":"{T}","event":"alive","seconds":0.1234567890123456789}}',
        f'{{"t" : "{T}" , "event" : "over" , "seconds" : 3}}',
        f'{{"t":"{T}","event":"over"}}',
        f'{{"t":"{T}","event":"over","seconds":null}}',
        f'{{"t":"{T}","event":"alive","station":"\u2028\ufffd"}}',
        f'{{"t":"{T}","event":"alive","slot":1.0}}',
        f'{{"t":"{T}","event":"alive","slot":1.5}}',
        f'{{"t":"{T}","event":"alive","station":"a\tb"}}',
        f'{{"t":"{T}","event":["alive"]}}',
        f'{{"t":"{T}","event":"alive","mode":""}}',
    ],
)
def test_an_odd_line_is_read_as_plainly_and_spoils_nothing_beside_it(line: str) -> None:
    good = f'{{"t":"{T}","event":"alive","mode":"dmr"}}'
    check([good, line, good])


def test_a_line_longer_than_64_kib_is_unread() -> None:
    line = json.dumps({"t": T, "event": "alive", "x": "y" * 70_000})
    assert list(read(READER, line, line[:40]).verdicts) == [2, 2]


def test_the_carry_is_when_the_last_stamped_line_was_written() -> None:
    reading = read(READER, json.dumps({"t": "1970-01-01T00:01:00Z", "event": "over", "seconds": 2.5}), "junk")
    assert (
        reading.carry.last_us == 62_500_000
        and list(reading.stamps) == [60_000_000, 60_000_000]
        and reading.stamped.all()
    )
    assert not read(READER, "junk").stamped.any()


def test_a_line_that_is_wrong_in_something_else_keeps_its_own_stamp() -> None:
    lines = [
        '{"t":"2026-11-16T19:00:00Z","event":"alive"}',
        '{"t":"2026-11-16T20:00:00Z","event":"nonsense"}',
        '{"t":"2026-11-16T21:00:00Z","event":"over-st',
        "no stamp at all",
    ]
    read = ActivityReader().read(pl.Series(lines), Carry(), 0)
    assert (read.stamps - read.stamps[0]).tolist() == [0, 3_600_000_000, 7_200_000_000, 7_200_000_000]
    assert read.carry.last_us == read.stamps[0]
