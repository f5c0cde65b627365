"""From rows to columns: blind time and the counts of lines, exact to the microsecond in any window, against a walk through the lines."""

import datetime as dt
import itertools
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.analytics.load import intake_counts, load_activity
from server.store.engine import reading
from shared import spans as sp
from shared.zones import SECOND
from tests.intake.conftest import Folder

BEGIN = dt.datetime(2026, 11, 16, 9, 0, tzinfo=dt.UTC)
KINDS = ("alive", "over", "nonsense", "host-stop", "host-start", "over-end")
Line = tuple[int, str]  # second after BEGIN, kind


def us(second: float) -> int:
    return round((BEGIN.timestamp() + second) * SECOND)


def written(lines: list[Line]) -> bytes:
    rows = []
    for second, kind in lines:
        stamp = (BEGIN + dt.timedelta(seconds=second)).isoformat()
        rows.append(
            f'{{"t":"{stamp}","event":"{kind}","mode":"fm","seconds":1}}'
            if kind == "over"
            else f'{{"t":"{stamp}","event":"{kind}","mode":"fm"}}'
        )
    return "".join(row + "\n" for row in rows).encode()


@st.composite
def logs(draw: st.DrawFn) -> list[Line]:
    seconds = sorted(draw(st.lists(st.integers(0, 4 * 3600), min_size=0, max_size=25)))
    return [(second, draw(st.sampled_from(KINDS))) for second in seconds]


WINDOWS = st.tuples(st.integers(-3600, 4 * 3600), st.integers(1, 4 * 3600)).map(lambda pair: (pair[0], pair[0] + pair[1]))


def blind_seconds(lines: list[Line], start: int, end: int, quiet: int | None) -> int:
    """Second by second, as docs/definitions.md has it."""
    stops = [
        (second, next((later for later, kind in lines[i + 1 :] if kind in ("host-start", "host-stop")), 10**9))
        for i, (second, kind) in enumerate(lines)
        if kind == "host-stop"
    ]
    stamps = sorted({second for second, _ in lines})
    gaps = [(a, b) for a, b in itertools.pairwise(stamps) if quiet is not None and b - a > quiet]
    if quiet is not None:  # where no line lies before or after, the stretch is measured from the window's edge
        first, last = (stamps[0], stamps[-1]) if stamps else (end, end)
        if first - start > quiet:
            gaps.append((-(10**9), first))
        if stamps and end - last > quiet:
            gaps.append((last, 10**9))
    return sum(any(a <= second < b for a, b in stops + gaps) for second in range(start, end))


@pytest.fixture(scope="module")
def place() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder)


@settings(max_examples=40, deadline=None)
@given(logs(), WINDOWS, st.sampled_from([None, 60, 900, 3600]))
def test_blind_time_and_line_counts_are_those_of_a_walk_through_the_lines(
    place: Path, lines: list[Line], window: tuple[int, int], quiet: int | None
) -> None:
    with tempfile.TemporaryDirectory(dir=place) as scratch:
        folder = Folder(Path(scratch))
        folder.write("host.log", written(lines))
        folder.catch_up()
        start, end = us(window[0]), us(window[1])
        with reading(folder.engine) as connection:
            activity = load_activity(connection, start, end, quiet_log_s=quiet)
            counts = intake_counts(connection, start, end)
        folder.close()
    inside = [kind for second, kind in lines if window[0] <= second < window[1]]
    assert counts == {
        "lines": len(inside), "understood": sum(kind != "nonsense" for kind in inside), "ignored": 0, "unread": inside.count("nonsense"),
        "orphans": inside.count("over-end"), "doubtful": 0,
    }  # fmt: skip
    assert sp.length(sp.clip(activity.blind, start, end)) == blind_seconds(lines, *window, quiet) * SECOND


def test_a_window_between_two_microseconds_counts_its_own_line(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    folder.write("host.log", written([(10, "alive"), (11, "alive")]))
    folder.catch_up()
    with reading(folder.engine) as connection:
        assert intake_counts(connection, us(10), us(10) + 1)["lines"] == 1
        assert intake_counts(connection, us(10) + 1, us(11))["lines"] == 0
        assert intake_counts(connection, us(-7200), us(7200))["lines"] == 2
    folder.close()
