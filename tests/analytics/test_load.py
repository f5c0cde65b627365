"""From rows to columns: seen time and the counts of lines, exact to the microsecond in any window, against a walk
through the lines.
"""

import datetime as dt
import itertools
import tempfile
from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.analytics.figure_types import LineCounts
from server.analytics.figures import figures
from server.analytics.hour_tallies import Reckoning, window_sums
from server.analytics.load import intake_counts, load_activity
from server.analytics.tally import hour_tallies
from server.store.engine import reading
from shared import spans as sp
from shared.zones import SECOND, from_us, midnight
from tests.intake.conftest import Folder

BEGIN = dt.datetime(2026, 11, 16, 9, 0, tzinfo=dt.UTC)
KINDS = ("alive", "alive", "over", "nonsense", "host-stop", "host-start", "over-end")
Line = tuple[int, str]  # second after BEGIN, kind


def us(second: float) -> int:
    return round((BEGIN.timestamp() + second) * SECOND)


def written(lines: list[Line], log: str = "host") -> bytes:
    """Activity lines. Logs that hold just the same would be one, so each line names its own under a key that nobody
    reads.
    """
    rows = []
    for second, kind in lines:
        stamp = (BEGIN + dt.timedelta(seconds=second)).isoformat()
        rows.append(
            f'{{"t":"{stamp}","event":"{kind}","mode":"fm","seconds":1,"log":"{log}"}}'
            if kind == "over"
            else f'{{"t":"{stamp}","event":"{kind}","mode":"fm","log":"{log}"}}'
        )
    return "".join(row + "\n" for row in rows).encode()


@st.composite
def logs(draw: st.DrawFn) -> list[Line]:
    seconds = sorted(draw(st.lists(st.integers(0, 4 * 3600), min_size=0, max_size=25)))
    return [(second, draw(st.sampled_from(KINDS))) for second in seconds]


WINDOWS = st.tuples(st.integers(-3600, 4 * 3600), st.integers(1, 4 * 3600)).map(
    lambda pair: (pair[0], pair[0] + pair[1])
)


def seen_of(lines: list[Line], quiet: int | None) -> set[int]:
    """The seconds of which one log tells, second by second, as docs/definitions.md has it."""
    if not lines:
        return set()
    stamps = sorted(second for second, _ in lines)
    seen = set(range(stamps[0], stamps[-1]))
    for a, b in itertools.pairwise(stamps):
        if quiet is not None and b - a > quiet:
            seen -= set(range(a, b))
    for i, (second, kind) in enumerate(lines):
        if kind == "host-stop":
            after = (later for later, other in lines[i + 1 :] if other in ("host-start", "host-stop"))
            seen -= set(range(second, next(after, 10**5)))
    return seen


def seen_seconds(logs: list[list[Line]], start: int, end: int, quiet: int | None) -> int:
    """Of the logs that carry overs (of all, where none does), and of all overs (each lasts a second)."""
    carrying = [lines for lines in logs if any(kind in ("over", "refused", "page") for _, kind in lines)]
    seen: set[int] = set()
    for lines in carrying or logs:
        seen |= seen_of(lines, quiet)
    seen |= {second for lines in logs for second, kind in lines if kind == "over"}
    return len(seen & set(range(start, end)))


@pytest.fixture(scope="module")
def place() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder)


@settings(max_examples=60, deadline=None)
@given(logs(), logs(), WINDOWS, st.sampled_from([None, 60, 900, 3600]))
def test_seen_time_and_line_counts_are_those_of_a_walk_through_the_lines(
    place: Path, lines: list[Line], others: list[Line], window: tuple[int, int], quiet: int | None
) -> None:
    with tempfile.TemporaryDirectory(dir=place) as scratch:
        folder = Folder(Path(scratch), ("host.log", "other.log"))
        folder.write("host.log", written(lines))
        folder.write("other.log", written(others, "other"))
        folder.catch_up()
        start, end = us(window[0]), us(window[1])
        with reading(folder.engine) as connection:
            activity = load_activity(connection, start, end, quiet_log_s=quiet)
            counts = intake_counts(connection, start, end)
        folder.close()
    inside = [kind for second, kind in lines + others if window[0] <= second < window[1]]
    assert counts == LineCounts(
        lines=len(inside), understood=sum(kind != "nonsense" for kind in inside), unread=inside.count("nonsense"),
        orphans=inside.count("over-end"),
    )  # fmt: skip
    seen, blind = activity.seen((start, end)), sp.clip(activity.blind, start, end)
    assert sp.length(seen) == seen_seconds([lines, others], *window, quiet) * SECOND
    assert sp.length(seen) + sp.length(blind) == end - start and not len(sp.intersection(seen, blind))


@settings(max_examples=40, deadline=None)
@given(logs(), logs(), st.lists(st.integers(0, 25), max_size=3), st.sampled_from([None, 600, 3600]))
def test_hour_tallies_kept_while_a_log_grows_are_those_of_the_whole_log(
    place: Path, lines: list[Line], others: list[Line], cuts: list[int], quiet: int | None
) -> None:
    """Tallies are asked for after each piece, so that whatever a later line changes must have been dropped."""
    setting = "" if quiet is None else f"[timers]\nquiet_log_s = {quiet}\n"
    start, end = us(-2 * 3600), us(6 * 3600)
    with tempfile.TemporaryDirectory(dir=place) as scratch:
        folder = Folder(Path(scratch), ("host.log", "other.log"), more=setting)
        reckoning = Reckoning(folder.station.timers_for_figures(), folder.station.zone, {}, quiet)
        for first, after in itertools.pairwise([0, *sorted(cuts), 99]):
            for name, its in (("other.log", others), ("host.log", lines)):
                folder.write(name, written(its[first:after], name))
            folder.catch_up()
            kept = window_sums(folder.engine, reckoning, start, end)
        with reading(folder.engine) as connection:
            activity = load_activity(connection, start, end, quiet_log_s=quiet)
            made = hour_tallies(activity, start, end, reckoning.timers)
        folder.close()
    for mode, sums in kept.items():
        whole = made.filter(made["mode"] == mode)
        assert sums == {name: whole[name].sum() or 0 for name in sums}
    assert kept[""]["seen_us"] == sp.length(activity.seen((start, end)))


@pytest.mark.parametrize("name", ["Asia/Kathmandu", "Australia/Lord_Howe", "Europe/London"])
def test_the_tallies_of_a_local_day_are_its_figures_in_every_zone(tmp_path: Path, name: str) -> None:
    """Kathmandu is 5 h 45 min ahead of UTC, Lord Howe's clocks change by half an hour (IANA tz database; worked)."""
    zone = ZoneInfo(name)
    day = from_us(us(0), zone).date()
    start, end = midnight(day, zone), midnight(day + dt.timedelta(days=1), zone)
    folder = Folder(tmp_path)
    first = (start - us(0)) // SECOND
    folder.write("host.log", written([(first + second, "over") for second in range(-1200, 86_400 + 1200, 300)]))
    folder.catch_up()
    timers = folder.station.timers_for_figures()
    kept = window_sums(folder.engine, Reckoning(timers, zone, {}), start, end)
    with reading(folder.engine) as connection:
        found = figures(load_activity(connection, start, end), (start, end), timers, zone, "QB0BFR", LineCounts())
    assert kept[""]["overs"] == found.channel.overs == 288
    assert kept[""]["airtime_us"] == (found.channel.airtime_s or 0) * SECOND and kept[""]["seen_us"] == end - start
    folder.close()


def test_a_log_that_carries_no_overs_makes_nothing_seen_once_another_does(tmp_path: Path) -> None:
    folder = Folder(tmp_path, ("host.log", "link.log"))
    folder.write("link.log", written([(0, "alive"), (7200, "alive")]))
    folder.catch_up()

    def seen() -> int:
        with reading(folder.engine) as connection:
            return sp.length(load_activity(connection, us(-60), us(9000)).seen((us(-60), us(9000)))) // SECOND

    assert seen() == 7200
    folder.write("host.log", written([(600, "over"), (1200, "alive")]))
    folder.catch_up()
    assert seen() == 600
    folder.close()


def test_a_log_that_was_given_up_makes_nothing_blind_that_another_tells(tmp_path: Path) -> None:
    folder = Folder(tmp_path, ("old.log", "new.log"), more="[timers]\nquiet_log_s = 900\n")
    folder.write("old.log", written([(0, "over"), (600, "alive")]))
    folder.write("new.log", written([(second, "over") for second in range(0, 7200, 600)]))
    folder.catch_up()
    with reading(folder.engine) as connection:
        activity = load_activity(connection, us(0), us(6600), quiet_log_s=900)
    assert not len(sp.clip(activity.blind, us(0), us(6600)))
    folder.close()


def test_a_window_between_two_microseconds_counts_its_own_line(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    folder.write("host.log", written([(10, "alive"), (11, "alive")]))
    folder.catch_up()
    with reading(folder.engine) as connection:
        assert intake_counts(connection, us(10), us(10) + 1).lines == 1
        assert intake_counts(connection, us(10) + 1, us(11)).lines == 0
        assert intake_counts(connection, us(-7200), us(7200)).lines == 2
    folder.close()


@pytest.mark.parametrize("quiet", [None, 86_400])
def test_a_log_is_seen_through_any_silence_where_no_limit_is_set(tmp_path: Path, quiet: int | None) -> None:
    folder = Folder(tmp_path)
    after = 40 * 86_400
    folder.write("host.log", written([(0, "over"), (after, "alive")]))
    folder.catch_up()
    with reading(folder.engine) as connection:
        activity = load_activity(connection, us(-60), us(after + 60), quiet_log_s=quiet)
    seen_s = after if quiet is None else 1  # the over of a second is seen, whatever the log was silent about
    assert sp.length(activity.seen((us(-60), us(after + 60)))) == seen_s * SECOND
    folder.close()
