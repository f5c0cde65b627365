"""`airtally replay` and `airtally timers` as a keeper types them."""

import contextlib
import io
import json
import os
import sys
from pathlib import Path

import pytest

from server.cli import main


def airtally(*arguments: str, cwd: Path) -> tuple[int, str, str]:
    """Exit code, standard output, standard error."""
    out, err, there, argv = io.StringIO(), io.StringIO(), Path.cwd(), sys.argv
    os.chdir(cwd)
    sys.argv = ["airtally", *arguments]
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as left:
            main()
    finally:
        os.chdir(there)
        sys.argv = argv
    return int(left.value.code or 0), out.getvalue(), err.getvalue()


LINES = [
    '{"t":"2026-11-16T19:00:00Z","event":"over","mode":"dmr","slot":1,"side":"air","station":"QA1AAA","target":"99901","seconds":10}',
    '{"t":"2026-11-16T19:00:13Z","event":"over","mode":"dmr","slot":1,"side":"air","station":"QB2BBB","target":"99901","seconds":10}',
    '{"t":"2026-11-16T19:00:11Z","event":"refused","mode":"c4fm","side":"air","station":"QC3CCC","reason":"other-mode"}',
    '{"t":"2026-11-16T19:00:35Z","event":"refused","mode":"c4fm","side":"air","station":"QC3CCC","reason":"other-mode"}',
    '{"t":"2026-11-16T20:00:00Z","event":"refused","mode":"fm","side":"air","reason":"other-mode"}',
    '{"t":"2026-11-16T19:00:45Z","event":"over","mode":"fm","side":"link","seconds":150}',
    '{"t":"2026-11-17T19:00:45Z","event":"alive"}',
]
WINDOW = ("--from", "2026-11-16", "--to", "2026-11-18")


@pytest.fixture
def hill(tmp_path: Path) -> Path:
    (tmp_path / "host.log").write_text("".join(line + "\n" for line in LINES))
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[timers]\nhold_s = 20\n[[log]]\npath = "host.log"\n'
    )
    assert airtally("ingest", cwd=tmp_path)[0] == 0
    return tmp_path


def test_a_replay_as_json_is_what_the_contract_promises(hill: Path) -> None:
    code, out, _ = airtally("replay", *WINDOW, "--hold", "dmr=2", "--hold", "default=10", "--timeout", "120", "--json", cwd=hill)
    found = json.loads(out)
    assert code == 0
    assert found["window"] == {
        "from": "2026-11-16T00:00:00+00:00", "to": "2026-11-18T00:00:00+00:00", "zone": "Europe/London", "seconds": 172800.0, "blind_s": 0.0,
    }  # fmt: skip
    assert found["hold_s"] == {"dmr": 2.0, "default": 10.0} and found["timeout_s"] == 120.0
    # DMR 19:00:00-10 and 19:00:13-23, its hold to 19:00:43; FM from 19:00:45 for 150 s. Worked by hand.
    assert found["now"] == {
        "shut_outs": 2, "idle_hold_s": 3.0 + 20.0 + 20.0, "open_gaps": 0, "break_ins": 0, "overs_cut": 0, "seconds_cut": 0.0,
    }  # fmt: skip
    assert found["then"] == {
        "shut_outs": 1, "idle_hold_s": 2.0 + 2.0 + 10.0, "open_gaps": 1, "break_ins": 0, "overs_cut": 1, "seconds_cut": 30.0,
    }  # fmt: skip
    assert found["unexplained_attempts"] == 1 and found["displaced_link_overs"] == 0
    assert found["interval"]["shut_outs"][0] <= 1 <= found["interval"]["shut_outs"][1]
    assert found["effects"]["attempts_spared"] == 1 and found["assumptions"]


def test_a_longer_hold_displaces_the_link_over_apart(hill: Path) -> None:
    found = json.loads(airtally("replay", *WINDOW, "--hold", "dmr=30", "--json", cwd=hill)[1])
    assert found["hold_s"] == {"dmr": 30.0, "default": 20.0} and found["timeout_s"] == 180.0
    assert found["displaced_link_overs"] == 1 and found["then"]["shut_outs"] == 2


def test_in_words_counted_and_simulated_stand_apart_with_the_assumptions(hill: Path) -> None:
    out = airtally("replay", *WINDOW, "--hold", "dmr=2", cwd=hill)[1]
    assert "Counted: 1 attempts spared" in out and "Simulated: 0 air overs displaced" in out
    assert "Demand does not change with the timers" in out and "come back as they did" in out


def test_without_settings_every_hold_is_tried_and_little_data_supports_no_change(hill: Path) -> None:
    out = airtally("replay", *WINDOW, cwd=hill)[1]
    assert "No change is supported by this data." in out and "60 s" in out and "20 s *" in out and "150 s" in out
    found = json.loads(airtally("replay", *WINDOW, "--json", cwd=hill)[1])
    assert found["suggestion"]["says"] == "No change is supported by this data." and found["then"] == found["now"]


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("--hold", "dmr"), "MODE=SECONDS was expected"),
        (("--hold", "dmr=-1"), "MODE=SECONDS was expected"),
        (("--hold", "dmr=nan"), "MODE=SECONDS was expected"),
        (("--hold", "cb=3"), "MODE=SECONDS was expected"),
        (("--hold", "dmr=3", "--hold", "dmr=4"), "given twice"),
        (("--timeout", "0"), "seconds above 0"),
        (("--timeout", "soon"), "not a valid float"),
    ],
)
def test_unusable_settings_are_refused_with_a_sentence(hill: Path, arguments: tuple[str, ...], sentence: str) -> None:
    code, out, err = airtally("replay", *WINDOW, *arguments, cwd=hill)
    assert code == 2 and sentence in err and out == "" and "Traceback" not in err


def test_a_change_of_timers_is_entered_listed_and_taken_back(hill: Path) -> None:
    assert airtally("timers", cwd=hill)[1] == "No change of timers was entered.\n"
    code, out, _ = airtally("timers", "--changed-on", "2026-11-17", "--note", "hold of DMR\x1b[2J from 20 s to 10 s", cwd=hill)
    assert code == 0 and out == "1  2026-11-17 00:00  hold of DMR [2J from 20 s to 10 s\n"
    crossed = json.loads(airtally("replay", *WINDOW, "--hold", "dmr=5", "--json", cwd=hill)[1])
    assert any("change of timers lies in this window" in line for line in crossed["assumptions"])
    assert airtally("timers", "--remove", "7", cwd=hill)[0] == 1
    assert airtally("timers", "--remove", "1", cwd=hill)[1] == "No change of timers was entered.\n"
    for wrong in (
        ("--changed-on", "2026-11-17"),
        ("--note", "x"),
        ("--changed-on", "soon", "--note", "x"),
        ("--changed-on", "2026-11-17", "--note", " "),
    ):
        assert airtally("timers", *wrong, cwd=hill)[0] == 2
