"""A dialect's zone that is wrong shows where the station's clocks go back. Europe/London did on 25 October 2026 at
02:00 (the tz database, from memory)."""

import datetime as dt
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from server.intake.clock_changes import steps_back, zone_words
from tests.cli.test_commands import airtally

UTC, LONDON, PARIS = ZoneInfo("UTC"), ZoneInfo("Europe/London"), ZoneInfo("Europe/Paris")
FIRST = dt.datetime(2026, 10, 24, 22, tzinfo=dt.UTC)
INSTANTS = [FIRST + dt.timedelta(minutes=5 * n) for n in range(120)]
DIALECT = """[dialect]
name = "pit"
time = "%Y-%m-%d %H:%M:%S"
zone = "{zone}"
[[line]]
event = "alive"
text = "{{t}} pulse"
[[line.sample]]
text = "2026-10-24 23:00:00 pulse"
gives = {{ event = "alive" }}
"""


def read_in(zone: ZoneInfo) -> list[int]:
    """The stamps of a host in London, by its wall clock, as another zone takes them."""
    walls = [at.astimezone(LONDON).replace(tzinfo=None) for at in INSTANTS]
    return steps_back(np.array([round(wall.replace(tzinfo=zone).timestamp() * 1e6) for wall in walls], dtype=np.int64))


def test_a_jump_back_of_an_hour_as_the_stations_clocks_do_is_told_with_the_zone_to_set() -> None:
    said = zone_words(read_in(UTC), UTC, LONDON)
    assert said is not None and "jump back an hour on 25 October 2026, as clocks in Europe/London do" in said
    assert 'zone = "Europe/London"' in said


def test_no_jump_and_a_jump_on_another_day_say_nothing() -> None:
    steady = np.array([round(at.timestamp() * 1e6) for at in INSTANTS], dtype=np.int64)
    assert zone_words(steps_back(steady), UTC, LONDON) is None
    day = round(dt.datetime(2026, 11, 3, 14, tzinfo=dt.UTC).timestamp() * 1e6)
    assert zone_words(steps_back(np.array([day, day - 3_600_000_000], dtype=np.int64)), UTC, LONDON) is None


def test_try_says_it(tmp_path: Path) -> None:
    (tmp_path / "pit.toml").write_text(DIALECT.format(zone="UTC"))
    walls = [f"{at.astimezone(LONDON):%Y-%m-%d %H:%M:%S} pulse\n" for at in INSTANTS]
    (tmp_path / "pit.log").write_text("".join(walls))
    (tmp_path / "station.toml").write_text('[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n')
    said = "The stamps jump back an hour on 25 October 2026"
    assert said in airtally("dialect", "try", "pit.toml", "pit.log", cwd=tmp_path).stdout
    (tmp_path / "pit.toml").write_text(DIALECT.format(zone="Europe/London"))
    assert said not in airtally("dialect", "try", "pit.toml", "pit.log", cwd=tmp_path).stdout


def test_reading_again_says_how_many_overs_start_at_another_instant(tmp_path: Path) -> None:
    line = '\n[[line]]\nevent = "over"\ntext = "{{t}} over {{duration}}"\nset = {{ mode = "fm", side = "air" }}\n'
    sample = '[[line.sample]]\ntext = "2026-10-24 23:00:00 over 5s"\ngives = {{ event = "over", seconds = 5 }}\n'
    (tmp_path / "pit.toml").write_text((DIALECT + line + sample).format(zone="UTC"))
    (tmp_path / "pit.log").write_text("2026-07-01 12:00:00 over 5s\n2026-12-01 12:00:00 over 5s\n")
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[[log]]\npath = "pit.log"\ndialect = "pit"\n'
    )
    assert airtally("ingest", cwd=tmp_path).returncode == 0
    (tmp_path / "pit.toml").write_text((DIALECT + line + sample).format(zone="Europe/London"))
    said = airtally("ingest", "--again", "--dry-run", cwd=tmp_path).stdout
    assert "overs 2 before, 2 after" in said and "1 over would start at another instant." in said


def test_check_says_it_until_the_zone_is_set_and_the_log_was_read_again(tmp_path: Path) -> None:
    (tmp_path / "pit.toml").write_text(DIALECT.format(zone="UTC"))
    walls = [f"{at.astimezone(LONDON):%Y-%m-%d %H:%M:%S} pulse\n" for at in INSTANTS]
    (tmp_path / "pit.log").write_text("".join(walls))
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[[log]]\npath = "pit.log"\ndialect = "pit"\n'
    )
    airtally("ingest", cwd=tmp_path)
    said = "The stamps jump back an hour on 25 October 2026"
    assert said in airtally("check", cwd=tmp_path).stdout
    (tmp_path / "pit.toml").write_text(DIALECT.format(zone="Europe/London"))
    airtally("ingest", "--again", cwd=tmp_path)
    assert said not in airtally("check", cwd=tmp_path).stdout
