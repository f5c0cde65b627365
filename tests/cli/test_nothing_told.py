"""Where no line of any log tells anything, every place says which: nothing was read, or nothing was understood."""

import datetime as dt
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from server.config import load_station
from server.source import StoreSource
from server.store.engine import open_store
from server.web.app import create_app
from server.web.listening import WebOptions
from tests.cli.test_commands import airtally


@pytest.fixture
def unread(tmp_path: Path) -> Path:
    (tmp_path / "pit.log").write_text("".join(f"a line of another host {n}\n" for n in range(9225)))
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[[log]]\npath = "pit.log"\n'
    )
    airtally("ingest", cwd=tmp_path)
    return tmp_path


def test_pages_say_that_nothing_of_what_was_read_could_be_understood(unread: Path) -> None:
    station = load_station(unread / "station.toml")
    source = StoreSource(open_store(station.store_url()), station)
    client = TestClient(create_app(source, WebOptions(folder=unread)), base_url="http://127.0.0.1")
    for page in ("/", "/week/2026-W47", "/transmitter"):
        text = client.get(page).text.replace("\u00a0", " ")
        assert "9,225 lines were read, and none of them could be understood" in text, page
        assert "Nothing has been read yet" not in text and "no log line is in the store" not in text, page


def test_figures_and_report_say_so_too(unread: Path) -> None:
    told = airtally("figures", "--week", "2026-W47", cwd=unread).stdout.replace("\u00a0", " ")
    assert "9,225 lines were read, and none of them could be understood" in told and "No log was read yet" not in told
    refusal = airtally("report", "--month", "2026-10", "-o", "a.pdf", cwd=unread)
    assert refusal.returncode == 1 and "none of them could be understood" in refusal.stderr


def test_an_empty_log_is_the_next_step_and_not_good(tmp_path: Path) -> None:
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[[log]]\npath = "host.log"\n'
    )
    (tmp_path / "host.log").touch()
    said = airtally("check", cwd=tmp_path).stdout
    assert "next     host.log: is empty; nothing has been written to it yet." in said
    assert "next     No notices are sent" in said


def test_no_alert_where_nobody_watched_points_to_the_replay(tmp_path: Path) -> None:
    (tmp_path / "station.toml").write_text('[repeater]\ncallsign = "QB0BFR"\nzone = "UTC"\n')
    assert "`airtally alerts --replay --from D --to D`" in airtally("alerts", cwd=tmp_path).stdout
    replayed = airtally("alerts", "--replay", "--week", "2026-W40", cwd=tmp_path).stdout
    assert "Nothing is known of these days" in replayed and "Nothing was raised" not in replayed


def test_reading_again_after_an_identity_was_erased_says_that_it_comes_back(tmp_path: Path) -> None:
    at = dt.datetime(2026, 11, 16, 12, tzinfo=dt.UTC).isoformat()
    (tmp_path / "host.log").write_text(
        f'{{"t": "{at}", "event": "over", "mode": "fm", "side": "air", "seconds": 5, "station": "QA1XYZ"}}\n'
    )
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "UTC"\n[[log]]\npath = "host.log"\n'
    )
    airtally("ingest", cwd=tmp_path)
    assert "Nothing was erased" in airtally("forget", "QA9ZZZ", "--yes", cwd=tmp_path).stdout
    assert "was erased" not in airtally("ingest", "--again", cwd=tmp_path).stderr
    airtally("forget", "QA1XYZ", "--yes", cwd=tmp_path)
    assert "An identity was erased from the store" in airtally("ingest", "--again", cwd=tmp_path).stderr
