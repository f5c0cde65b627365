"""An over whose end line says that it was shorter than its stamps: what was known at each instant stands, live and in a
replay (definitions.md, Alerts; no source outside of it).
"""

import datetime as dt
import json
from pathlib import Path

import pytest

from server.source import clock
from shared.zones import DAY, SECOND, from_us, to_us
from tests.alerts.hill import NIGHT, Clock, Hill, append, line, station_in
from tests.cli.test_commands import airtally

MINUTE = 60 * SECOND
WINDOW = ("--from", "2026-11-18", "--to", "2026-11-19")


def replayed(folder: Path, *window: str) -> list[dict[str, object]]:
    done = airtally("alerts", "--replay", *(window or WINDOW), "--json", cwd=folder)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)  # type: ignore[no-any-return]


def at(text: object) -> int:
    return to_us(dt.datetime.fromisoformat(str(text)))


@pytest.mark.parametrize(("seconds", "own"), [(60, "1 min"), (190.5, "3 min 10 s")])
def test_an_alert_stays_and_is_cleared_at_the_end_line_however_long_the_over_turns_out(
    tmp_path: Path, seconds: float, own: str
) -> None:
    hill = Hill(tmp_path, station_in(tmp_path, []), Clock(NIGHT))
    append(tmp_path, line(NIGHT, "over-start", mode="fm", side="air"))
    hill.at(NIGHT + SECOND)
    hill.at(NIGHT + 191 * SECOND)
    raised, ended = NIGHT + 190 * SECOND, NIGHT + 10 * MINUTE
    assert ("over-runs-on", "fm", raised, None) in hill.incidents()
    append(tmp_path, line(ended, "over-end", mode="fm", side="air", seconds=seconds), line(ended + SECOND, "alive"))
    hill.at(ended + 2 * SECOND)
    assert ("over-runs-on", "fm", raised, ended) in hill.incidents()
    hill.close()
    (one,) = [row for row in replayed(tmp_path) if row["rule"] == "over-runs-on"]
    assert (at(one["raised"]), at(one["cleared"])) == (raised, ended)
    (live,) = [
        row for row in json.loads(airtally("alerts", "--json", cwd=tmp_path).stdout) if row["rule"] == "over-runs-on"
    ]
    assert live == one
    said = str(one["says"])
    assert "ran on for 10 min; the limit is" in said and "still goes on" not in said
    assert said.endswith(f"Its end was logged at 03:20:00 on Wed 18 Nov 2026; by the host's own count it lasted {own}.")


def test_an_over_counts_as_going_on_until_its_end_is_told(tmp_path: Path) -> None:
    station_in(tmp_path, [])
    append(
        tmp_path,
        line(NIGHT - MINUTE, "alive"),
        line(NIGHT, "over-start", mode="fm", side="air"),
        line(NIGHT + 40 * MINUTE, "over-end", mode="fm", side="air", seconds=60),
    )
    assert airtally("ingest", cwd=tmp_path).returncode == 0
    duty = [row for row in replayed(tmp_path) if row["rule"] == "duty" and row["subject"] == "transmitter"]
    assert duty and at(duty[0]["raised"]) < NIGHT + 10 * MINUTE
    assert at(duty[0]["cleared"]) == NIGHT + 40 * MINUTE


def test_a_replay_stops_at_the_moment_of_reading(tmp_path: Path) -> None:
    """Signs of life of eight days up to ten minutes ago: nothing is silent yet, whatever the window."""
    now = clock()
    station_in(tmp_path, [])
    append(tmp_path, *(line(now - 10 * MINUTE - n * 5 * MINUTE, "alive") for n in range(8 * 288, -1, -1)))
    assert airtally("ingest", cwd=tmp_path).returncode == 0
    window = ("--from", f"{from_us(now - DAY):%Y-%m-%d}", "--to", f"{from_us(now + 3 * DAY):%Y-%m-%d}")
    assert replayed(tmp_path, *window) == []
