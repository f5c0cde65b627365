"""`airtally moment`, as a keeper types it."""

import json
from pathlib import Path

import pytest

from tests.cli.test_commands import airtally, refused
from tests.cli.test_condition import hill

STATION = (
    '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[timers]\nhold_s = { default = 20, dmr = 10 }\n'
    '[[log]]\npath = "host.log"\n[[target]]\nmode = "dmr"\nname = "99920"\nlabel = "Moor talk"\n'
)
LINES = (
    '{"t":"2026-11-17T19:00:00Z","event":"alive"}\n'
    '{"t":"2026-11-17T20:05:00Z","event":"link-down","network":"moorland","mode":"dmr","target":"99920"}\n'
    '{"t":"2026-11-17T20:06:00Z","event":"link-up","network":"moorland","mode":"dmr","target":"99920"}\n'
    '{"t":"2026-11-17T20:10:00Z","event":"over","mode":"fm","side":"air","seconds":180,"cause":"timeout"}\n'
    '{"t":"2026-11-17T20:14:00Z","event":"over","mode":"dstar","side":"air","seconds":50,"station":"QA1XYZ"}\n'
    '{"t":"2026-11-17T20:14:50Z","event":"refused","mode":"c4fm","station":"QA2ABC","reason":"other-mode"}\n'
    '{"t":"2026-11-17T20:15:05Z","event":"over","mode":"dstar","side":"link","seconds":10}\n'
    '{"t":"2026-11-17T23:00:00Z","event":"alive"}\n'
)


@pytest.fixture
def read(tmp_path: Path) -> Path:
    return hill(tmp_path, LINES, STATION)


def test_the_answer_is_one_that_can_be_pasted(read: Path) -> None:
    done = airtally("moment", "2026-11-17T20:15", "--mode", "c4fm", cwd=read)
    assert done.stdout.splitlines() == [
        "On Tue 17 Nov 2026 at 20:15:00 D-STAR held the repeater.",
        "Nothing was on the air: the repeater was still with D-STAR after its last over.",
        "D-STAR had held it without a break since 20:14:00, and held it until 20:15:35.",
        "A C4FM caller would have waited 35 s for it.",
        "Within 15 minutes of it 1 call was refused: C4FM at 20:14:50, D-STAR held the repeater for another 45 s.",
        "FM ran into the time-out at 20:13:00.",
        "The link to moorland, DMR Moor talk was down from 20:05:00 to 20:06:00.",
        "The log tells of no alert within 15 minutes of it.",
    ]
    assert done.returncode == 0


def test_calls_that_were_refused_for_the_same_hold_name_it_once(tmp_path: Path) -> None:
    talk = (
        '{"t":"2026-11-17T20:00:00Z","event":"over","mode":"p25","side":"air","seconds":840}\n'
        '{"t":"2026-11-17T20:00:05Z","event":"refused","mode":"c4fm","station":"QA2ABC","reason":"other-mode"}\n'
        '{"t":"2026-11-17T20:00:15Z","event":"refused","mode":"fm","reason":"other-mode"}\n'
        '{"t":"2026-11-17T20:00:16Z","event":"refused","mode":"dmr","station":"QA1XYZ","reason":"busy"}\n'
    )
    folder = hill(tmp_path, LINES[: LINES.index("\n") + 1] + talk + LINES[LINES.rindex("\n", 0, -1) + 1 :], STATION)
    told = airtally("moment", "2026-11-17T20:01", cwd=folder).stdout
    assert (
        "3 calls were refused: C4FM at 20:00:05 and FM at 20:00:15, P25 held the repeater for another 14 min;"
        " DMR at 20:00:16, its mode was in use." in told
    )


def test_the_json_is_the_contracts(read: Path) -> None:
    found = json.loads(airtally("moment", "2026-11-17T20:15:06", "--mode", "c4fm", "--json", cwd=read).stdout)
    assert list(found) == [
        "at", "seen", "on_air", "held_by", "held_from", "held_to", "wanted", "wait_s", "attempts", "timeouts",
        "links_down", "incidents", "says",
    ]  # fmt: skip
    since, until = "2026-11-17T20:15:05+00:00", "2026-11-17T20:15:15+00:00"
    assert found["on_air"] == [{"mode": "dstar", "slot": None, "side": "link", "from": since, "to": until}]
    assert (found["held_by"], found["wait_s"]) == ("dstar", 29.0)
    assert found["attempts"] == [
        {"at": "2026-11-17T20:14:50+00:00", "mode": "c4fm", "reason": "other-mode", "wait_s": 45.0}
    ]
    assert found["timeouts"][0]["mode"] == "fm" and found["links_down"][0]["network"] == "moorland"
    assert "QA1XYZ" not in json.dumps(found) and "QA2ABC" not in json.dumps(found)


def test_without_a_mode_any_other_is_spoken_of(read: Path) -> None:
    assert (
        "A caller of any other mode would have waited 35 s." in airtally("moment", "2026-11-17T20:15", cwd=read).stdout
    )


def test_a_free_repeater_is_said_to_have_been_free_as_far_as_the_log_tells(read: Path) -> None:
    said = airtally("moment", "2026-11-17T21:30", "--mode", "fm", cwd=read).stdout.splitlines()
    assert said == [
        "On Tue 17 Nov 2026 at 21:30:00 nothing held the repeater: it was free.",
        "It was free, as far as the log tells, since 20:15:35 until 23:00:00.",
        "An FM caller could have gone ahead.",
        "The log tells of no refused call, no time-out, no lost link and no alert within 15 minutes of it.",
    ]


@pytest.mark.parametrize(
    "at, said",
    [
        ("2026-11-17T12:00", "The log begins on Tue 17 Nov 2026, 19:00."),
        ("2026-11-18T12:00", "The last line that was read is of Tue 17 Nov 2026, 23:00."),
    ],
)
def test_what_nobody_saw_is_said_with_the_reason(read: Path, at: str, said: str) -> None:
    told = airtally("moment", at, cwd=read).stdout
    assert "nobody knows what held the repeater: no log tells of that moment. " + said in told
    assert "was free" not in told and "no refused call" not in told
    found = json.loads(airtally("moment", at, "--mode", "fm", "--json", cwd=read).stdout)
    assert [found[name] for name in ("seen", "on_air", "held_by", "wait_s", "attempts")] == [
        False,
        None,
        None,
        None,
        None,
    ]


def test_a_moment_ahead_is_not_judged(read: Path) -> None:
    assert "lies ahead" in airtally("moment", "2199-01-01T12:00", cwd=read).stdout


def test_an_empty_store_says_what_to_do_next(tmp_path: Path) -> None:
    (tmp_path / "station.toml").write_text(STATION)
    assert "`airtally ingest` reads them" in airtally("moment", "2026-11-17T12:00", cwd=tmp_path).stdout


@pytest.mark.parametrize(
    "at, sentence",
    [
        ("soon", "'soon' is no date and no date-time"),
        ("2026-03-29T01:30", "does not exist in Europe/London: the clocks go forward over it"),
        ("1812-01-01", "no log reaches beyond the years"),
    ],
)
def test_what_is_no_moment_is_refused_with_a_sentence(read: Path, at: str, sentence: str) -> None:
    assert sentence in refused("moment", at, cwd=read)


def test_of_a_local_time_that_comes_twice_the_first_is_taken_and_said(tmp_path: Path) -> None:
    twice = LINES.replace("2026-11-17T19", "2026-10-24T19").replace("2026-11-17T23", "2026-10-26T23")
    folder = hill(tmp_path, twice, STATION)
    first = json.loads(airtally("moment", "2026-10-25T01:30", "--json", cwd=folder).stdout)
    second = json.loads(airtally("moment", "2026-10-25T01:30+00:00", "--json", cwd=folder).stdout)
    assert (first["at"], second["at"]) == ("2026-10-25T01:30:00+01:00", "2026-10-25T01:30:00+00:00")
    assert "01:30:00 came twice: this is the first of the two (BST), the other one is GMT." in " ".join(first["says"])
    assert "this is the second of the two (GMT), the other one is BST." in " ".join(second["says"])
    assert "01:30:00 BST" in first["says"][0] and "01:30:00 GMT" in second["says"][0]
