"""`airtally dialect try` and what adopt says of hosts that need more than a line for an event."""

import json
import subprocess
import sys
from pathlib import Path

import polars as pl

from parsers.adopt.oneline import over_several_lines
from parsers.dialect import find_dialect, load_dialect
from parsers.reading import Carry
from parsers.samples import check_samples
from server.cli.trying import SHOWN, overs_with_lines, yield_of
from shared.zones import SECOND, instant
from tests.parsers.test_sample_logs import FOLDER, UTC, load

LEDGER = FOLDER / "tarn-ledger.expect.json"


def ledger() -> tuple[pl.Series, pl.DataFrame, dict]:
    reads, lines, expect = load(LEDGER)
    return pl.Series(lines), reads.read(pl.Series(lines), Carry(), instant(expect["changed"], UTC)), expect


def test_the_sample_of_a_host_with_sessions_yields_its_overs_beside_their_lines() -> None:
    assert check_samples(load_dialect(FOLDER / "tarn-ledger.toml")) == []
    _, read, expect = ledger()
    overs, orphans = overs_with_lines(read.events)
    wanted = [(instant(one["start"], UTC), one["seconds"], one.get("mode"), one.get("slot")) for one in expect["overs"]]
    lengths = [None if end is None else (end - start) / SECOND for start, end in overs.select("start", "end").rows()]
    assert list(zip(overs["start"], lengths, overs["mode"], overs["slot"], strict=True)) == wanted
    assert overs.select("first", "last").rows() == [(0, 1), (2, 4), (3, 5), (7, 10), (11, None), (13, 14), (None, 15)]
    assert orphans.height == 0


def test_overs_come_first_with_their_lines_in_local_time_then_other_events_then_unread_lines() -> None:
    lines, read, _ = ledger()
    said = list(yield_of(lines, read, find_dialect("tarn-ledger", FOLDER).zone))  # type: ignore[attr-defined]
    assert (
        said[0]
        == "Overs: 7, 1 of them without an end; ends without start and length: 0. Times are local to Europe/London."
    )
    assert said[1:4] == [
        "  2026-11-16 23:51:07  12.0 s  DMR slot 1  by radio  9990123 > 99901  released",
        "         1: 23:51:07 no. 41 opens slot 1 of dmr, air, 9990123 to 99901",
        "         2: 23:51:19 no. 41 shuts after 12s: let go",
    ]
    assert said.index("Other events: 2.") < said.index("Unread: 1.") and said[-1].endswith(
        "13: 00:04:00 the ledger is being bound anew"
    )


def test_long_accounts_are_bounded_with_counts_and_print_nothing_that_moves_a_terminal(tmp_path: Path) -> None:
    over = '{{"t": "2026-11-16T19:{:02}:00Z", "event": "over", "mode": "dmr", "seconds": 2, "target": "\\u001b[2J"}}\n'
    (tmp_path / "long.log").write_text("".join(over.format(n) for n in range(50)) + "\x1b[2J\n" * 30)
    asked = [sys.executable, "-m", "server.cli", "dialect", "try", "activity", "long.log"]
    done = subprocess.run(
        asked, cwd=tmp_path, capture_output=True, text=True, env={"PYTHONPATH": str(Path(__file__).parents[2])}
    )
    assert done.returncode == 1 and done.stderr == ""
    assert f"... and {50 - SHOWN} more overs." in done.stdout and f"... and {30 - SHOWN} more lines." in done.stdout
    assert "\x1b" not in done.stdout and len(done.stdout.splitlines()) < 4 * SHOWN


def test_a_host_that_writes_an_event_over_several_lines_is_told_so_and_others_are_not() -> None:
    several = []
    for n in range(40):
        several += [f"2026-11-16 19:{n:02}:00 over began", "  mode DMR", "  station 9990123"]
    said = over_several_lines(several, 0)
    assert said is not None and said.startswith("Of the first 120 lines 80 have no stamp and follow one that has")
    for path in sorted(FOLDER.glob("*.expect.json")):
        log = FOLDER / json.loads(path.read_text())["log"]
        assert over_several_lines(log.read_text().splitlines(), 0) is None, log.name
