"""FILE of a command that writes one: what lies there is not lost unasked."""

import os
import subprocess
import sys
import threading
from pathlib import Path

import polars as pl
import pytest

from tests.cli.test_commands import airtally, refused

DAYS = ("figures", "--week", "2026-W47", "--by", "day")
FORMS = [(*DAYS, "--csv"), (*DAYS, "--parquet"), ("overs", "--week", "2026-W47", "--parquet")]
OVER = '{"t":"2026-11-16T19:00:00Z","event":"over","mode":"dmr","seconds":1,"station":"QA1XYZ","target":"99901"}\n'


@pytest.fixture
def hill(tmp_path: Path) -> Path:
    (tmp_path / "host.log").write_text(OVER)
    (tmp_path / "ids.csv").write_text("9990001,QA1XYZ\n")
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[[log]]\npath = "host.log"\n'
        '[stations]\nid_list = "ids.csv"\n'
    )
    airtally("ingest", cwd=tmp_path)
    return tmp_path


@pytest.mark.parametrize("form", [*FORMS, ("report", "--month", "2026-11", "--yes", "-o"), ("backup",)])
@pytest.mark.parametrize("own", ["airtally.db", "airtally.db-wal", "station.toml", "host.log", "ids.csv", "a link"])
def test_the_stations_own_files_are_refused_and_stay(hill: Path, form: tuple[str, ...], own: str) -> None:
    (hill / "a link").symlink_to("airtally.db")
    before = {file.name: file.read_bytes() for file in hill.iterdir()}
    said = refused(*form, own, cwd=hill)
    assert "is one of the station's own files" in said or (form == ("backup",) and "is the store itself" in said)
    assert {file.name: file.read_bytes() for file in hill.iterdir()} == before and (hill / "a link").is_symlink()


@pytest.mark.parametrize("form", FORMS)
def test_what_is_no_such_table_is_kept_or_refused(hill: Path, form: tuple[str, ...]) -> None:
    (hill / "mine").write_text("years of work\n")
    (hill / "link").symlink_to("mine")
    for name in ("mine", "link"):
        assert "holds what airtally did not write" in refused(*form, name, cwd=hill)
        assert (hill / "mine").read_text() == "years of work\n"
    done = airtally(*form, "link", "--yes", cwd=hill)
    assert done.returncode == 0 and "is kept as" in done.stderr
    assert (hill / "mine.bak").read_text() == "years of work\n" and (hill / "link").is_symlink()
    assert (hill / "mine").read_bytes()[:4] in (b"PAR1", b"repe")
    assert airtally(*form, "mine", cwd=hill).returncode == 0  # a table of its own goes without a question


@pytest.mark.parametrize("form", FORMS)
def test_a_pipe_is_written_through_and_stays_a_pipe(hill: Path, form: tuple[str, ...]) -> None:
    os.mkfifo(hill / "pipe")
    came: list[bytes] = []
    reader = threading.Thread(target=lambda: came.append((hill / "pipe").read_bytes()), daemon=True)
    reader.start()
    assert airtally(*form, "pipe", cwd=hill).returncode == 0
    assert (hill / "pipe").is_fifo()
    reader.join(20)
    assert came and came[0][:4] in (b"PAR1", b"repe")


def test_standard_output_by_its_path_holds_the_table_alone(hill: Path) -> None:
    (hill / "stdout").symlink_to("/proc/self/fd/1")  # as /dev/stdout is, and nothing of the machine's at risk
    command = [sys.executable, "-m", "server.cli", *DAYS, "--parquet", "stdout"]
    piped = subprocess.run(command, cwd=hill, capture_output=True, check=True, env=with_house()).stdout
    with (hill / "days").open("wb") as out:
        subprocess.run(command, cwd=hill, stdout=out, stderr=subprocess.DEVNULL, check=True, env=with_house())
    assert piped == (hill / "days").read_bytes() and pl.read_parquet(hill / "days").height == 7


def with_house() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
