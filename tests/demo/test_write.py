"""The demo's folder: logs with rotated siblings, a station file that loads, and the truth."""

import datetime as dt
import gzip
import json
import re
from pathlib import Path

import pytest

from server.config import load_station
from server.demo import world
from server.demo.write import UNREAD, write_demo

SHORT = {"seed": 9, "weeks": 1, "first_day": dt.date(2026, 11, 9)}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path: Path = tmp_path_factory.mktemp("demo")
    write_demo(path, **SHORT)
    return path


def content(path: Path) -> str:
    return (gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()).decode()


def test_the_same_arguments_write_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    write_demo(tmp_path, **SHORT)
    names = sorted(path.relative_to(folder) for path in folder.rglob("*") if path.is_file())
    assert names == sorted(path.relative_to(tmp_path) for path in tmp_path.rglob("*") if path.is_file())
    assert all((folder / name).read_bytes() == (tmp_path / name).read_bytes() for name in names)


def test_the_hosts_log_has_rotated_siblings_each_as_old_as_its_last_line(folder: Path) -> None:
    files = [folder / "logs" / name for name in ("host.log.2.gz", "host.log.1", "host.log")]
    stamps = []
    for file in files:
        lines = [line for line in content(file).splitlines() if re.match(r"\d{4}-\d\d-\d\dT", line)]
        first, last = (dt.datetime.fromisoformat(line.split(" ")[0]) for line in (lines[0], lines[-1]))
        assert file.stat().st_mtime == pytest.approx(last.timestamp(), abs=0.001)
        stamps += [first, last]
    assert stamps == sorted(stamps)


def test_the_station_file_loads_and_says_what_the_world_is(folder: Path) -> None:
    station = load_station(folder / "station.toml")
    assert (station.repeater.callsign, station.repeater.zone) == (world.CALLSIGN, world.ZONE)
    assert (station.timers.timeout_s, station.timers.hold_s, station.timers.tail_s) == (
        world.TIMEOUT_S,
        world.HOLD_S,
        world.TAIL_S,
    )
    assert station.web.listen == "127.0.0.1:8087"
    assert {(one.mode, one.name, one.reach) for one in station.target} == {
        (one.mode, one.name, one.reach) for one in world.TARGETS if one.name
    }
    assert len({log.dialect for log in station.log}) == 3


def test_the_truth_tells_how_many_lines_nobody_can_read(folder: Path) -> None:
    truth = json.loads((folder / "truth.json").read_text())
    assert {box: one["unread"] for box, one in truth["intake"].items()} == UNREAD
    for box, one in truth["intake"].items():
        assert one["lines"] == sum(len(content(path).splitlines()) for path in (folder / "logs").glob(f"{box}.log*"))
        assert one["lines"] == one["understood"] + one["ignored"] + one["unread"]


def test_a_default_demo_ends_with_a_whole_week_after_the_clocks_changed() -> None:
    from server.demo.write import LAST_DAY

    assert (LAST_DAY, LAST_DAY.weekday()) == (dt.date(2026, 11, 23), world.MONDAY)
    assert LAST_DAY - dt.timedelta(weeks=13) < dt.date(2026, 10, 25) < LAST_DAY
