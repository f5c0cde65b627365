"""The commands about the station itself, as a keeper types them."""

import datetime as dt
import json
from pathlib import Path

import pytest

from server.telling.caution import CAUTION, SCREENING, WORK
from tests.cli.test_commands import airtally, refused

STATION = '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[[log]]\npath = "host.log"\n'
TRANSMITTER = "[transmitter]\npower_w = 25\nfeeder_loss_db = 2\nantenna_gain_dbi = 8.15\nfrequency_mhz = 435\n"
KEYED = (
    '{"t":"2026-11-16T18:00:00Z","event":"alive"}\n'
    '{"t":"2026-11-16T19:00:00Z","event":"over","mode":"fm","side":"air","seconds":180,"station":"QA1XYZ"}\n'
    '{"t":"2026-11-16T20:00:00Z","event":"alive"}\n'
)
DAY = ("--from", "2026-11-16", "--to", "2026-11-17")


def hill(folder: Path, lines: str, station: str = STATION) -> Path:
    (folder / "host.log").write_text(lines)
    (folder / "station.toml").write_text(station)
    assert airtally("ingest", cwd=folder).returncode == 0
    return folder


def asked(command: str, folder: Path, *window: str) -> object:
    done = airtally(command, *(window or DAY), "--json", cwd=folder)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_sheet_of_exposure_is_that_of_the_worst_minutes(tmp_path: Path) -> None:
    folder = hill(tmp_path, KEYED, STATION + TRANSMITTER)
    found = asked("exposure", folder)
    assert isinstance(found, dict)
    assert found["duty"] == {"6min": 0.5, "30min": 0.1}
    assert found["eirp_w"] == pytest.approx(103.02, abs=0.01) and found["frequency_mhz"] == 435
    assert [one["name"] for one in found["limits"]] == [
        "icnirp-2020-public-whole-body", "icnirp-2020-public-local", "oet-65-general-population",
    ]  # fmt: skip
    assert found["limits"][0]["distance_m"] == pytest.approx(0.614, abs=0.001)
    assert found["limits"][0]["distance_full_duty_m"] == pytest.approx(1.941, abs=0.001)
    assert SCREENING in found["caution"] and CAUTION in found["caution"] and found["to_set"] == []


def test_the_terminal_has_the_caution_first(tmp_path: Path) -> None:
    folder = hill(tmp_path, KEYED, STATION + TRANSMITTER)
    said = airtally("exposure", *DAY, cwd=folder).stdout
    assert said.startswith(f"{SCREENING}\n{CAUTION}\n")
    assert "near field" in said and "Health Physics" in said and "FCC OET Bulletin 65" in said
    assert "0.62 m" in said and "1.95 m" in said  # rounded up
    assert "the least that they can have been" in said


def test_what_is_not_set_is_named_with_where_to_set_it(tmp_path: Path) -> None:
    folder = hill(tmp_path, KEYED, STATION + "[transmitter]\npower_w = 25\n")
    found = asked("exposure", folder)
    assert isinstance(found, dict)
    assert found["eirp_w"] is None and found["near_field_m"] is None
    assert {one["distance_full_duty_m"] for one in found["limits"]} == {None}
    names = ["frequency_mhz", "feeder_loss_db", "antenna_gain_dbi"]
    assert found["to_set"] == [f"[transmitter] {name}" for name in names]
    assert f"{', '.join(names)}. Set them under [transmitter]." in airtally("exposure", *DAY, cwd=folder).stdout


def test_of_a_window_without_a_log_the_worst_share_is_not_known(tmp_path: Path) -> None:
    folder = hill(tmp_path, KEYED, STATION + TRANSMITTER)
    found = asked("exposure", folder, "--week", "2026-W10")
    assert isinstance(found, dict)
    assert found["duty"] == {"6min": None, "30min": None} and found["limits"][0]["distance_m"] is None
    assert "Nothing of this time was seen" in airtally("exposure", "--week", "2026-W10", cwd=folder).stdout


def test_the_reflection_of_the_ground_is_a_yes_or_a_no(tmp_path: Path) -> None:
    folder = hill(tmp_path, KEYED, STATION + TRANSMITTER + "ground_reflection = true\n")
    found = asked("exposure", folder)
    assert isinstance(found, dict) and found["ground_reflection"] is True
    assert found["limits"][0]["distance_full_duty_m"] == pytest.approx(1.6 * 1.9414, abs=0.001)
    (folder / "station.toml").write_text(STATION + TRANSMITTER + "ground_reflection = 1\n")
    assert "transmitter.ground_reflection = 1" in refused("exposure", *DAY, cwd=folder)


LINKED = (
    '{"t":"2026-11-16T18:00:00Z","event":"link-up","network":"moorland","mode":"dmr","target":"99920"}\n'
    '{"t":"2026-11-16T19:00:00Z","event":"over","mode":"dmr","side":"link","seconds":30,"target":"99920","loss_pct":8}\n'
    '{"t":"2026-11-16T19:01:00Z","event":"over","mode":"dmr","side":"link","seconds":90,"target":"99920","loss_pct":0}\n'
    '{"t":"2026-11-16T19:05:00Z","event":"over","mode":"fm","side":"link","seconds":10}\n'
    '{"t":"2026-11-16T20:00:00Z","event":"link-down","network":"moorland"}\n'
    '{"t":"2026-11-16T20:00:20Z","event":"link-up","network":"moorland","mode":"dmr","target":"99920"}\n'
    '{"t":"2026-11-16T21:00:00Z","event":"link-down","network":"moorland","mode":"dmr"}\n'
    '{"t":"2026-11-16T22:00:00Z","event":"alive"}\n'
)


def test_links_as_json_and_as_a_table(tmp_path: Path) -> None:
    folder = hill(tmp_path, LINKED, STATION + '[[target]]\nmode = "dmr"\nname = "99920"\nlabel = "Moor chat"\n')
    (found,) = asked("links", folder)  # type: ignore[misc]
    week = found.pop("weeks")
    assert [(one["week"], one["down_s"], one["outages"], one["flaps"], one["overs"]) for one in week] == [
        ("2026-W47", 3620.0, 1, 1, 2)
    ]
    assert [found] == [
        {
            "network": "moorland", "mode": "dmr", "target": "99920", "known_s": 4 * 3600.0,
            "availability": (3 * 3600 - 20) / (4 * 3600), "down_s": 3620.0,
            "outages": [{"from": "2026-11-16T21:00:00+00:00", "to": None}], "flaps": 1, "overs": 2, "airtime_s": 120.0,
            "loss_pct": 2.0, "loss_high_share": 0.25, "weekly_gap_s": None, "silences": None,
        }
    ]  # fmt: skip
    said = airtally("links", *DAY, cwd=folder).stdout
    assert "moorland, DMR Moor chat" in said and "not back in this window" in said
    assert "Of 3 overs that came over a link 1 is not told apart" in said


def test_a_log_without_links_says_what_would_bring_them(tmp_path: Path) -> None:
    folder = hill(tmp_path, KEYED)
    assert asked("links", folder) == []
    assert "`link-up` and `link-down`" in airtally("links", *DAY, cwd=folder).stdout


def test_of_links_in_a_window_that_nobody_saw_nothing_is_known(tmp_path: Path) -> None:
    folder = hill(tmp_path, LINKED)
    (one,) = asked("links", folder, "--week", "2026-W52")  # type: ignore[misc]
    assert one["known_s"] == 0 and one["availability"] is None and one["outages"] is None and one["overs"] is None
    assert "not known" in airtally("links", "--week", "2026-W52", cwd=folder).stdout


CALLS = [f"QA{n}XYZ" for n in range(1, 7)]


def heard(calls: list[str], days: int, since: int) -> str:
    """Each call once a day in the local evening, 6 dB weaker from a day on."""
    lines = ['{"t":"2026-08-01T00:00:00Z","event":"alive"}']
    for day in range(days):
        date = dt.date(2026, 8, 1) + dt.timedelta(days=day)
        for place, call in enumerate(calls):
            level = -80 - 3 * place - (6 if day >= since else 0) + (day * 7 + place * 5) % 3 - 1
            lines.append(
                f'{{"t":"{date}T19:{place:02}:00Z","event":"over","mode":"dmr","side":"air","seconds":9,'
                f'"station":"{call}","rssi_dbm":{level}}}'
            )
    return "\n".join(lines) + "\n"


def test_reception_tells_the_day_from_which_levels_fell_and_no_station(tmp_path: Path) -> None:
    folder = hill(tmp_path, heard(CALLS, 60, 40))
    window = ("--from", "2026-08-01", "--to", "2026-09-30")
    found = asked("reception", folder, *window)
    assert isinstance(found, dict)
    assert (found["regulars"], found["readings"]) == (6, 360)
    assert len(found["days"]) == 60 and found["days"][0]["day"] == "2026-08-01" and found["days"][0]["stations"] == 6
    (change,) = found["changes"]
    assert change["day"] == "2026-09-10" and change["kind"] == "deaf" and change["hours"] is None
    assert change["shift_db"] == pytest.approx(-6, abs=0.5) and change["low_db"] <= -6 <= change["high_db"]
    assert change["errors_pct"] is None and change["modes"].keys() == {"dmr"}
    said = airtally("reception", *window, cwd=folder).stdout
    assert "From Thu 10 Sep on, stations came in 6." in said and "Feeder and connectors" in said and WORK in said
    assert not any(call in said + json.dumps(found) for call in CALLS)


def test_a_shorter_window_is_judged_by_the_weeks_before_and_after_it(tmp_path: Path) -> None:
    folder = hill(tmp_path, heard(CALLS, 60, 40))
    found = asked("reception", folder, "--from", "2026-09-07", "--to", "2026-09-14")
    assert isinstance(found, dict)
    assert [one["day"] for one in found["changes"]] == ["2026-09-10"] and len(found["days"]) == 7
    assert found["days"][-1]["shift_db"] == pytest.approx(-6, abs=1)
    before = asked("reception", folder, "--from", "2026-08-10", "--to", "2026-09-07")
    assert isinstance(before, dict) and before["changes"] == []


def test_few_stations_are_no_number_on_the_terminal_nor_in_json(tmp_path: Path) -> None:
    folder = hill(tmp_path, heard(CALLS[:4], 20, 99))
    found = asked("reception", folder, "--month", "2026-08")
    assert isinstance(found, dict) and found["regulars"] == "fewer than 5"
    assert {one["stations"] for one in found["days"]} == {"fewer than 5", 0}
    said = airtally("reception", "--month", "2026-08", cwd=folder).stdout
    assert "ten days or more): fewer than 5." in said and "Reception is as usual" in said
    early = airtally("reception", "--from", "2026-08-01", "--to", "2026-08-05", cwd=folder).stdout
    assert "on no day were three stations heard" in early  # on ten days, up to the window's end


def test_a_log_without_levels_says_what_is_missing(tmp_path: Path) -> None:
    folder = hill(tmp_path, KEYED)
    found = asked("reception", folder)
    assert isinstance(found, dict) and (found["regulars"], found["readings"], found["changes"]) == (0, 0, [])
    assert {one["shift_db"] for one in found["days"]} == {None}
    said = airtally("reception", *DAY, cwd=folder).stdout
    assert "your host logs no level and no error rate" in said and "`rssi_dbm` and `ber_pct`" in said


def test_reception_of_an_empty_store_is_not_known(tmp_path: Path) -> None:
    folder = hill(tmp_path, "")
    said = airtally("reception", "--month", "2026-08", cwd=folder).stdout
    assert "not known: no over was received by radio" in said
    assert asked("links", folder) == []


def test_a_link_that_is_up_and_silent_for_longer_than_its_habit_is_told(tmp_path: Path) -> None:
    # An over each hour for four weeks, then none for three days: three gaps of an hour are long over.
    lines = ['{"t":"2026-10-01T00:00:00Z","event":"link-up","network":"moorland","mode":"dmr"}']
    for hour in range(24 * 31):
        day = dt.datetime(2026, 10, 1, tzinfo=dt.UTC) + dt.timedelta(hours=hour)
        stamp = day.isoformat().replace("+00:00", "Z")
        over = f'{{"t":"{stamp}","event":"over","mode":"dmr","side":"link","seconds":60,"target":"99920"}}'
        lines.append(over if hour < 24 * 28 else f'{{"t":"{stamp}","event":"alive"}}')
    folder = hill(tmp_path, "\n".join(lines) + "\n")
    (one,) = asked("links", folder, "--from", "2026-10-26", "--to", "2026-11-02")  # type: ignore[misc]
    assert one["weekly_gap_s"] == 3540.0
    (silence,) = one["silences"]
    assert silence["from"] == "2026-10-28T23:01:00+00:00" and silence["to"] is None
    assert silence["seconds"] == 3 * 86_400 - 60  # up to the last line, an hour before midnight
    said = airtally("links", "--from", "2026-10-26", "--to", "2026-11-02", cwd=folder).stdout
    assert "The link to moorland, DMR was up and silent from Wed 28 Oct 2026, 23:01, and still is" in said
    (before,) = asked("links", folder, "--from", "2026-10-12", "--to", "2026-10-26")  # type: ignore[misc]
    assert before["silences"] == []
