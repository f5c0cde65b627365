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


def test_a_week_without_a_line_says_so_and_is_not_judged_and_check_proposes_the_longest_silence(tmp_path: Path) -> None:
    first = dt.datetime(2026, 9, 1, tzinfo=dt.UTC)
    pulse = [first + dt.timedelta(minutes=10 * n) for n in range(57 * 144)]  # to 27 October
    lines = [f'{{"t": "{at.isoformat()}", "event": "alive"}}' for at in [*pulse, first + dt.timedelta(days=87)]]
    over = '{"t": "2026-09-02T12:00:00Z", "event": "over", "mode": "fm", "side": "air", "seconds": 60}'
    (tmp_path / "host.log").write_text("\n".join([*lines, over, ""]))
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[[log]]\npath = "host.log"\n'
    )
    airtally("ingest", cwd=tmp_path)
    station = load_station(tmp_path / "station.toml")
    source = StoreSource(open_store(station.store_url()), station)
    client = TestClient(create_app(source, WebOptions(folder=tmp_path)), base_url="http://127.0.0.1")
    text = client.get("/week/2026-W46").text.replace("\u00a0", " ")
    assert "No line was logged in these days; as" in text and "count as a quiet repeater" in text
    assert "Nobody was on the air" not in text and "usually is some" not in text
    said = airtally("check", cwd=tmp_path).stdout
    assert "it was silent for more than 10 min less than once a week" in said and "timers.quiet_log_s = 1800" in said
    assert "the longest 30 days" in said
