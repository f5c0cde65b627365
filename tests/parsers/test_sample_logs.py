"""The sample logs yield what was known when they were written, whole or in parts."""

import json
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from parsers.dialect import SHIPPED, find_dialect, load_dialect, reader, shipped_dialects
from parsers.reading import Carry, Reader
from parsers.samples import check_samples
from shared.events import EVENTS
from shared.zones import instant

FOLDER = Path(__file__).parents[2] / "sample_logs"
UTC = ZoneInfo("UTC")
EXPECTED = sorted(FOLDER.glob("*.expect.json"))


def load(path: Path) -> tuple[Reader, list[str], dict[str, Any]]:
    expect = json.loads(path.read_text())
    lines = (FOLDER / expect["log"]).read_text().removesuffix("\n").split("\n")
    return find_dialect(expect["dialect"], FOLDER), lines, expect


def as_dicts(events: pl.DataFrame) -> list[dict[str, Any]]:
    return [{k: v for k, v in row.items() if v is not None and k != "line"} for row in events.to_dicts()]


def approx(event: dict[str, Any]) -> dict[str, Any]:
    return {k: pytest.approx(v) if isinstance(v, float) else v for k, v in event.items()}


@pytest.mark.parametrize("path", EXPECTED, ids=lambda path: path.name)
def test_a_sample_log_yields_the_events_it_was_written_from(path: Path) -> None:
    reads, lines, expect = load(path)
    reading = reads.read(pl.Series(lines), Carry(), instant(expect["changed"], UTC))
    counts = [int((reading.verdicts == verdict).sum()) for verdict in range(3)]
    assert counts == [expect["understood"], expect["ignored"], expect["unread"]] and sum(counts) == expect["lines"]
    wanted = [{**event, "t": instant(event["t"], UTC)} for event in expect["events"]]
    assert len(wanted) == len(reading.events)
    for got, want in zip(as_dicts(reading.events), wanted, strict=True):
        assert got == approx(want)


@pytest.mark.parametrize("path", EXPECTED, ids=lambda path: path.name)
def test_a_log_split_anywhere_gives_the_same_events_as_whole(path: Path) -> None:
    reads, lines, expect = load(path)
    changed = instant(expect["changed"], UTC)
    whole = reads.read(pl.Series(lines), Carry(), changed)
    for cut in (*range(0, len(lines), 4), len(lines)):
        first = reads.read(pl.Series(lines[:cut], dtype=pl.String), Carry(), changed)
        second = reads.read(pl.Series(lines[cut:], dtype=pl.String), first.carry, changed)
        assert as_dicts(first.events) + as_dicts(second.events) == as_dicts(whole.events), cut
        assert [*first.verdicts, *second.verdicts] == list(whole.verdicts)
        assert second.carry == whole.carry


@pytest.mark.parametrize("name", shipped_dialects())
def test_a_shipped_dialect_has_no_problem_and_tells_every_event_it_can(name: str) -> None:
    dialect = load_dialect(SHIPPED / f"{name}.toml")
    assert check_samples(dialect) == []
    told = {line.event for line in dialect.file.line}
    overs = {"over"} if "over" in told else {"over-start", "over-end"}
    assert told == (set(EVENTS) - {"over", "over-start", "over-end"}) | overs | {"ignore"}
    reasons = {sample.gives.get("reason") for line in dialect.file.line for sample in line.sample}
    assert reader(dialect).name == name and "other-mode" in reasons
