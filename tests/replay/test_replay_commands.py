"""`airtally replay` and `airtally timers` as a keeper types them."""

import contextlib
import io
import json
import os
import random
import sys
from pathlib import Path

import pytest

from server.cli import main
from server.telling.caution import TIMERS_LINE
from shared.zones import iso
from tests.replay.replay_brute import outcome
from tests.replay.replay_world import BASE, STATIONS, TICK, Over, Refused, World


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
    code, out, _ = airtally(
        "replay", *WINDOW, "--hold", "dmr=2", "--hold", "default=10", "--timeout", "120", "--json", cwd=hill
    )
    found = json.loads(out)
    assert code == 0
    assert found["window"] == {
        "from": "2026-11-16T00:00:00+00:00",
        "to": "2026-11-18T00:00:00+00:00",
        "zone": "Europe/London",
        "seconds": 172800.0,
        "blind_s": 86355.0,
    }
    assert found["hold_s"] == {"dmr": 2.0, "default": 10.0} and found["timeout_s"] == 120.0
    # DMR 19:00:00-10 and 19:00:13-23, its hold to 19:00:43; FM from 19:00:45 for 150 s. Worked by hand.
    assert found["now"] == {
        "shut_outs": 2,
        "idle_hold_s": 3.0 + 20.0 + 20.0,
        "open_gaps": 0,
        "break_ins": 0,
        "overs_cut": 0,
        "seconds_cut": 0.0,
    }
    assert found["then"] == {
        "shut_outs": 1,
        "idle_hold_s": 2.0 + 2.0 + 10.0,
        "open_gaps": 1,
        "break_ins": 0,
        "overs_cut": 1,
        "seconds_cut": 30.0,
    }
    assert found["unexplained_attempts"] == 1 and found["displaced_link_overs"] == 0
    assert found["interval"] == {"shut_outs": None, "idle_hold_s": None}  # two days tell little of others
    assert found["effects"]["attempts_spared"] == 1 and found["assumptions"]


def test_a_window_of_which_nothing_was_seen_has_no_replay(hill: Path) -> None:
    window = ("--from", "2026-11-01", "--to", "2026-11-02")
    found = json.loads(airtally("replay", *window, "--hold", "dmr=2", "--json", cwd=hill)[1])
    assert {value for name in ("now", "then", "effects", "interval") for value in found[name].values()} == {None}
    assert "Nothing of this window was seen" in airtally("replay", *window, "--hold", "dmr=2", cwd=hill)[1]


def test_a_longer_hold_displaces_the_link_over_apart(hill: Path) -> None:
    found = json.loads(airtally("replay", *WINDOW, "--hold", "dmr=30", "--json", cwd=hill)[1])
    assert found["hold_s"] == {"dmr": 30.0, "default": 20.0} and found["timeout_s"] == 180.0
    assert found["displaced_link_overs"] == 1 and found["then"]["shut_outs"] == 2


def test_in_words_counted_and_simulated_stand_apart_with_the_assumptions(hill: Path) -> None:
    out = airtally("replay", *WINDOW, "--hold", "dmr=2", cwd=hill)[1]
    assert "Counted:\nCalls spared: 1 (" in out and "Simulated:\nDisplaced, by radio: 0 (" in out
    assert "Demand does not change with the timers" in out and "come back as they did" in out


def test_without_settings_every_hold_is_tried_and_little_data_supports_no_change(hill: Path) -> None:
    out = airtally("replay", *WINDOW, cwd=hill)[1]
    assert (
        "No change is supported by this data." in out and "60 s" in out and "20 s, in force" in out and "150 s" in out
    )
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
    assert airtally("timers", cwd=hill)[1] == f"No change of timers was entered.\n{TIMERS_LINE}\n"
    code, out, _ = airtally(
        "timers", "--changed-on", "2026-11-17", "--note", "hold of DMR\x1b[2J from 20 s to 10 s", cwd=hill
    )
    assert code == 0 and out == "1  2026-11-17 00:00  hold of DMR [2J from 20 s to 10 s\n" + f"{TIMERS_LINE}\n"
    crossed = json.loads(airtally("replay", *WINDOW, "--hold", "dmr=5", "--json", cwd=hill)[1])
    assert any("change of timers lies in this window" in line for line in crossed["assumptions"])
    assert airtally("timers", "--remove", "7", cwd=hill)[0] == 1
    assert airtally("timers", "--remove", "1", cwd=hill)[1] == f"No change of timers was entered.\n{TIMERS_LINE}\n"
    for wrong in (
        ("--changed-on", "2026-11-17"),
        ("--note", "x"),
        ("--changed-on", "soon", "--note", "x"),
        ("--changed-on", "2026-11-17", "--note", " "),
    ):
        assert airtally("timers", *wrong, cwd=hill)[0] == 2


@pytest.mark.parametrize("seed", range(4))
def test_from_lines_to_json_a_replay_is_what_the_slow_twin_says(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    pick = rng.choice
    overs = [
        Over(
            start,
            start + rng.randrange(2, 80),
            pick(["dmr", "dstar", "c4fm"]),
            0,
            pick(["air", "air", "link"]),
            pick([*STATIONS, None]),
            pick(["99901", "99902"]),
        )
        for start in sorted(rng.randrange(0, 9000) for _ in range(260))
    ]
    refusals = [
        Refused(
            t,
            pick(["dmr", "dstar", "fm"]),
            pick(["air", None]),
            pick([*STATIONS[:2], None]),
            pick(["other-mode", "other-mode", None, "busy", "lockout"]),
        )
        for t in sorted(rng.randrange(0, 9000) for _ in range(200))
    ]
    world = World(overs, refusals, {"default": 20.0, "dmr": 10.0}, 30.0, (1000, 8000))
    stamp = lambda tick: iso(BASE + tick * TICK)  # noqa: E731
    said = [
        (
            o.start,
            {
                "event": "over",
                "mode": o.mode,
                "side": o.side,
                "station": o.station,
                "target": o.target,
                "seconds": (o.end - o.start) / 2,
            },
        )
        for o in overs
    ]
    said += [
        (r.t, {"event": "refused", "mode": r.mode, "side": r.side, "station": r.station, "reason": r.reason})
        for r in refusals
    ]
    lines = [
        json.dumps({"t": stamp(tick), **{k: v for k, v in one.items() if v is not None}})
        for tick, one in sorted(said, key=lambda pair: pair[0])
    ]
    (tmp_path / "host.log").write_text("".join(line + "\n" for line in lines))
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[timers]\nhold_s = { default = 20, dmr = 10'
        ' }\ntimeout_s = 30\n[[log]]\npath = "host.log"\n'
    )
    assert airtally("ingest", cwd=tmp_path)[0] == 0
    window = ("--from", stamp(1000), "--to", stamp(8000))
    for hold, timeout in (
        ({"default": 5.0}, 12.0),
        ({"dmr": 25.0, "default": 30.0}, 30.0),
        ({"dmr": 0.0, "default": 60.0}, 200.0),
    ):
        options = [word for mode, seconds in hold.items() for word in ("--hold", f"{mode}={seconds}")]
        found = json.loads(airtally("replay", *window, *options, "--timeout", str(timeout), "--json", cwd=tmp_path)[1])
        then, now = outcome(world, hold, timeout), outcome(world, world.hold, world.timeout)
        for name in found["then"]:
            assert found["then"][name] == then[name] and found["now"][name] == now[name], name
        assert (
            found["displaced_link_overs"] == then["displaced_link_overs"]
            and found["unexplained_attempts"] == now["unexplained_attempts"]
        )
        assert then["shut_outs"] > 0
