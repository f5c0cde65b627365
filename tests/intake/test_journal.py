"""A unit's journal is followed by its cursor: against a journal file that systemd's own tools write and read."""

import datetime as dt
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from server.cli import cli
from server.config import load_station
from server.intake import journal
from server.intake.ingest import Intake
from server.intake.journal import NO_ENTRY
from server.intake.journal_readings import ROTATED_AWAY
from server.store import schema
from server.store.engine import open_store
from shared.errors import StationFileError
from shared.zones import SECOND
from tests.intake.conftest import T0, Folder, over_line

REMOTE = Path("/lib/systemd/systemd-journal-remote")
real = pytest.mark.skipif(
    not REMOTE.exists() or not shutil.which("journalctl"), reason="systemd's journal tools are not installed"
)
UNIT = "fell.service"


def message(number: int, seconds: float = 2.0) -> str:
    at = dt.datetime.fromtimestamp(T0 + 10 * number, dt.UTC).isoformat()
    return json.dumps({"t": at, "event": "over", "mode": "dmr", "target": str(number), "seconds": seconds})


def exported(messages: list[tuple[int, str]], unit: str = UNIT) -> bytes:
    """Entries in the export format (systemd.io, Journal Export Formats): second since T0, message."""
    out = b""
    for number, (second, text) in enumerate(messages):
        out += (
            f"__REALTIME_TIMESTAMP={(T0 + second) * SECOND}\n__MONOTONIC_TIMESTAMP={(second + 1) * SECOND + number}\n"
            f"_BOOT_ID={'0123456789abcdef' * 2}\n"
            f"_MACHINE_ID={'fedcba9876543210' * 2}\n_SYSTEMD_UNIT={unit}\nMESSAGE={text}\n\n"
        ).encode()
    return out


def add(folder: Path, messages: list[tuple[int, str]], unit: str = UNIT, file: str = "fell") -> None:
    folder.mkdir(exist_ok=True)
    command = [str(REMOTE), "-o", str(folder / f"{file}.journal"), "-"]
    subprocess.run(command, input=exported(messages, unit), check=True, capture_output=True)


def station(tmp_path: Path, dialect: str = "activity", unit: str = UNIT) -> Folder:
    one = Folder(tmp_path, ())
    text = (
        one.station_file.read_text()
        + f'[[log]]\njournal = "{unit}"\njournal_directory = "other"\ndialect = "{dialect}"\n'
    )
    one.station_file.write_text(text)
    one.station = load_station(one.station_file)
    one.restart()
    return one


@real
def test_the_messages_of_a_units_journal_are_stored_once_and_followed_after_a_restart(tmp_path: Path) -> None:
    one = station(tmp_path)
    add(tmp_path / "other", [(10 * n, message(n)) for n in range(20)])
    add(tmp_path / "other", [(5, message(900))], unit="else.service")
    assert one.catch_up().lines == 20 and one.numbers() == list(range(20))
    one.restart(block_bytes=500)
    assert one.catch_up().lines == 0
    add(tmp_path / "other", [(10 * n, message(n)) for n in range(20, 45)])
    one.restart(block_bytes=500)
    assert one.catch_up().lines == 25 and one.numbers() == list(range(45))
    assert one.rows(schema.log, "name", "lines") == [(f"journal:{UNIT}@{tmp_path / 'other'}", 45)]
    one.close()


@real
def test_a_dialect_with_the_journal_envelope_has_its_stamps_from_the_journal(tmp_path: Path) -> None:
    (tmp_path / "tarn.toml").write_text(
        '[dialect]\nname = "tarn"\nenvelope = "journal"\n[[line]]\nevent = "over-start"\ntext = "{session} up {mode}"\n'
        '[[line]]\nevent = "over-end"\ntext = "{session} down"\n'
    )
    one = station(tmp_path, "tarn")
    add(tmp_path / "other", [(0, "7 up dmr"), (1, "8 up dstar"), (4, "7 down"), (9, "8 down")])
    one.catch_up()
    assert sorted(one.rows(schema.over, "start", "end", "mode")) == [
        (T0 * SECOND, (T0 + 4) * SECOND, "dmr"), ((T0 + 1) * SECOND, (T0 + 9) * SECOND, "dstar"),
    ]  # fmt: skip
    one.close()


@real
def test_messages_that_tell_the_time_of_day_lie_on_the_days_of_their_entries(tmp_path: Path) -> None:
    (tmp_path / "tarn.toml").write_text(
        '[dialect]\nname = "tarn"\ntime = "%H:%M:%S"\n[[line]]\nevent = "over"\ntext = "{t} {mode} {seconds}"\n'
    )
    one = station(tmp_path, "tarn")
    seconds = [0, 40, 5 * 86_400, 9 * 86_400 + 3]
    stamps = [dt.datetime.fromtimestamp(T0 + second, dt.UTC).strftime("%H:%M:%S dmr 1.0") for second in seconds]
    add(tmp_path / "other", [(second + 1, stamp) for second, stamp in zip(seconds, stamps, strict=True)])
    one.catch_up()
    assert [start for (start,) in sorted(one.rows(schema.over, "start"))] == [
        (T0 + second) * SECOND for second in seconds
    ]
    one.close()


@real
def test_an_entry_that_was_rotated_away_is_told_and_reading_goes_on(tmp_path: Path) -> None:
    one = station(tmp_path)
    add(tmp_path / "other", [(0, message(0))])
    one.catch_up()
    (tmp_path / "other" / "fell.journal").unlink()
    add(tmp_path / "other", [(100, message(10)), (110, message(11))], file="later")
    one.restart()
    caught = one.catch_up()
    assert one.numbers() == [0, 10, 11] and [ROTATED_AWAY in note for note in caught.notes] == [True]
    one.close()


@real
def test_a_unit_that_no_entry_is_of_is_told(tmp_path: Path) -> None:
    one = station(tmp_path, unit="nobody.service")
    add(tmp_path / "other", [(0, message(0))])
    assert [NO_ENTRY in trouble for trouble in one.catch_up().troubles] == [True]
    one.close()


@real
def test_check_says_whether_a_journal_can_be_read(tmp_path: Path) -> None:
    one = station(tmp_path)
    one.close()
    asked = ["check", "--station", str(one.station_file)]
    assert "there is no such folder" in CliRunner().invoke(cli, asked).output
    add(tmp_path / "other", [(0, message(0))])
    assert f"journal:{UNIT}@{tmp_path / 'other'}: can be read." in CliRunner().invoke(cli, asked).output


def test_a_folder_that_is_not_there_and_a_missing_journalctl_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = station(tmp_path)
    assert "there is no such folder" in one.catch_up().troubles[0]
    (tmp_path / "other").mkdir()
    monkeypatch.setenv("PATH", str(tmp_path))
    one.restart()
    assert "journalctl is not there" in one.catch_up().troubles[0]
    one.close()


@pytest.mark.parametrize(
    ("log", "says"),
    [
        ('path = "x.log"\njournal = "a.service"', "either path or journal"),
        ('dialect = "activity"', "either path or journal"),
        ('path = "x.log"\njournal_directory = "j"', "journal_directory goes with journal"),
        ('journal = "--all"', "log[1].journal"),
    ],
)
def test_a_log_has_one_place(tmp_path: Path, log: str, says: str) -> None:
    (tmp_path / "station.toml").write_text(f'[repeater]\ncallsign = "QB0BFR"\n[[log]]\n{log}\n')
    with pytest.raises(StationFileError) as refused:
        load_station(tmp_path / "station.toml")
    assert says in str(refused.value)


CHILD = """
import sys; from pathlib import Path
from server.cli import cli
from server.config import load_station
from server.intake.ingest import Intake
from server.store.engine import open_store
station = load_station(Path(sys.argv[1]))
intake = Intake(open_store(station.store_url()), station, block_bytes=2000)
intake.catch_up(lambda _count, _name: print("stored", flush=True))
"""


@real
def test_an_intake_that_is_killed_at_random_instants_stores_each_entry_once(tmp_path: Path) -> None:
    one = station(tmp_path)
    add(tmp_path / "other", [(10 * n, message(n)) for n in range(600)])
    rng = random.Random(7)
    for _ in range(8):
        child = subprocess.Popen(
            [sys.executable, "-c", CHILD, str(one.station_file)], stdout=subprocess.PIPE, cwd=Path(__file__).parents[2]
        )
        assert child.stdout is not None
        for _ in range(rng.randint(1, 6)):
            child.stdout.readline()
        time.sleep(rng.uniform(0, 0.02))
        os.kill(child.pid, signal.SIGKILL)
        child.wait()
        child.stdout.close()
    assert len(one.numbers()) > 0
    one.intake = Intake(open_store(one.station.store_url()), one.station)
    one.catch_up()
    assert one.numbers() == list(range(600))
    one.close()


def fake_journalctl(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, body: str) -> Folder:
    """A station whose journalctl does as the body says."""
    (tmp_path / "bin").mkdir()
    tool = tmp_path / "bin" / "journalctl"
    tool.write_text(f"#!{sys.executable}\nimport json, sys, time\n{body}")
    tool.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path / 'bin'}{os.pathsep}{os.environ['PATH']}")
    (tmp_path / "other").mkdir()
    one = station(tmp_path)
    text = one.station_file.read_text() + '[[log]]\npath = "host.log"\ndialect = "activity"\n'
    one.station_file.write_text(text)
    one.station = load_station(one.station_file)
    one.restart()
    return one


ENTRY = (
    'print(json.dumps({"__CURSOR": "c1", "__REALTIME_TIMESTAMP": "1770000000000000", "MESSAGE": "m"}), flush=True)\n'
)


def test_a_journalctl_that_hangs_holds_up_no_other_log_and_is_ended_and_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal, "SLICE_S", 0.05)
    monkeypatch.setattr(journal, "PATIENCE_S", 1.0)
    one = fake_journalctl(tmp_path, monkeypatch, ENTRY + "time.sleep(600)\n")
    began, passes, told = time.monotonic(), 0, []
    while not told and time.monotonic() < began + 20:
        one.write("host.log", over_line(passes))
        caught = one.intake.catch_up(step_s=2.0)
        passes, told = passes + 1, caught.troubles
        assert one.numbers() == list(range(passes))  # at once, while the journal waits
    assert passes > 3 and told == ["journalctl has given nothing for 1 s, and was ended."]
    assert [row[1] for row in one.rows(schema.log, "name", "lines") if row[0].startswith("journal:")] == [1]
    one.restart()
    began = time.monotonic()
    assert "has given nothing" in one.catch_up().troubles[0] and time.monotonic() < began + 10
    one.close()


def test_an_entry_that_comes_some_time_after_the_one_read_last_is_no_sign_of_a_rotated_journal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal, "SLICE_S", 0.05)
    later = ENTRY.replace("c1", "c2").replace("1770000000000000", "1770000001000000")
    body = ENTRY + f"if any('--cursor=c1' in word for word in sys.argv):\n    time.sleep(0.3)\n    {later}"
    one = fake_journalctl(tmp_path, monkeypatch, body)
    assert one.catch_up().lines == 1
    one.restart()
    result = one.catch_up()
    assert (result.lines, result.notes, result.troubles) == (1, [], [])
    one.close()


def test_an_end_is_not_held_up_by_a_journalctl_that_hangs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one = fake_journalctl(tmp_path, monkeypatch, "time.sleep(600)\n")
    began = time.monotonic()
    one.intake.catch_up(stopping=lambda: time.monotonic() > began + 0.5)
    one.intake.close()
    assert time.monotonic() - began < 5
    one.close()


def test_a_journalctl_that_says_more_than_a_pipe_holds_is_read_to_its_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = fake_journalctl(tmp_path, monkeypatch, "sys.stderr.write('x\\n' * 500_000)\n" + ENTRY + "sys.exit(0)\n")
    assert one.catch_up().lines == 1
    one.close()
