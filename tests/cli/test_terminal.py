"""Nothing in a log, a file name or a value acts on a terminal, in any command."""

import csv
import io
import json
import os
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest

from server.cli import COMMANDS
from server.config import load_station
from server.store import schema
from server.store.engine import open_store, writing

ROOT = Path(__file__).parents[2]
EVIL = "\x1b]0;owned\x07\x1b[2J\x9b31m\u202egnp\r\x08"
NAME = "QA1\x1b[31m"


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A station whose names, logs, file names and incidents hold what acts on a terminal."""
    folder = tmp_path_factory.mktemp("evil")
    text = (
        f"[repeater]\ncallsign = 'QB0BFR'\nname = {json.dumps('Bracken' + EVIL)}\nzone ="
        " 'Europe/London'\n[timers]\ntimeout_s = 180\nhold_s = 20\n[[log]]\npath = '*.log'\n[[target]]\nmode ="
        " 'dmr'\nname = '99901'\nlabel = "
        + json.dumps("chat" + EVIL)
        + "\n[alerts]\nnotify = ["
        + json.dumps("nonsense://hill")
        + "]\n"
    )
    (folder / "station.toml").write_text(text.replace("\\u007f", ""))
    lines = [
        {
            "t": f"2026-11-{16 + n % 7}T10:{n % 60:02}:00Z",
            "event": "over",
            "mode": "dmr",
            "slot": 1,
            "station": NAME + EVIL,
            "target": EVIL,
            "seconds": 5,
        }
        for n in range(60)
    ]
    lines += [{"t": "2026-11-17T10:00:00Z", "event": "link-up", "network": EVIL, "target": EVIL, "mode": "dmr"}]
    name = f"ho{EVIL}st.log".encode() + b"\xff.log"
    with open(os.path.join(os.fsencode(folder), name), "w", encoding="utf-8") as log:
        log.writelines(json.dumps(line) + "\n" for line in lines)
        log.write(f"nobody can read this {EVIL}\n" * 20)
    with open(os.path.join(os.fsencode(folder), b"bro\x1b[31mken.log.1.gz"), "wb") as broken:
        broken.write(b"\x1f\x8b broken")
    engine = open_store(load_station(folder / "station.toml").store_url())
    with writing(engine) as connection:
        values = {
            "rule": "link-down",
            "subject": EVIL,
            "raised": 1_794_823_504_000_000,
            "urgent": False,
            "says": f"says {EVIL}",
        }
        connection.execute(schema.incident.insert().values(told_end=False, reminders=0, **values))
    engine.dispose()
    run(folder / "station.toml", "ingest")
    return folder / "station.toml"


def run(station: Path, *arguments: str | bytes, given: str = "") -> tuple[int, str, str]:
    command = [sys.executable, "-m", "server.cli", *arguments]
    done = subprocess.run(
        command,
        cwd=station.parent,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        input=given.encode(),
    )
    return done.returncode, done.stdout.decode(), done.stderr.decode()


def acts(text: str) -> set[str]:
    """Characters of it that act on a terminal."""
    return {
        letter
        for letter in text
        if (unicodedata.category(letter)[0] == "C" or letter in "\u2028\u2029") and letter not in "\n\t"
    }


WEEK = ("--week", "2026-W47")
ASKED: dict[str, list[tuple[str | bytes, ...]]] = {
    "ingest": [("ingest",)],
    "check": [("check",)],
    "figures": [("figures", *WEEK), ("figures", *WEEK, "--json"), ("figures", "--week", EVIL)],
    "overs": [("overs", *WEEK), ("overs", *WEEK, "--csv")],
    "replay": [
        ("replay", *WEEK, "--hold", "dmr=5"),
        ("replay", *WEEK, "--hold", "dmr=5", "--json"),
        ("replay", *WEEK, "--hold", EVIL),
    ],
    "alerts": [
        ("alerts",),
        ("alerts", "--json"),
        ("alerts", "test"),
        ("alerts", "ack", "1"),
        ("alerts", "week", *WEEK),
        ("alerts", "week", "--week", EVIL),
        ("alerts", "--replay", *WEEK),
    ],
    "timers": [("timers",), ("timers", "add", "--at", "2026-11-17", f"note {EVIL}"), ("timers",)],
    "report": [
        ("report", "--month", "2026-11", "-o", f"no{EVIL}where/x.pdf"),
        ("report", "--month", EVIL, "-o", "x.pdf"),
    ],
    "adopt": [
        ("adopt", b"ho" + EVIL.encode() + b"st.log\xff.log", "--yes", "--out", "learnt.toml"),
        ("adopt", f"none{EVIL}", "--yes"),
    ],
    "dialect": [
        ("dialect", "check", f"none{EVIL}.toml"),
        ("dialect", "try", "activity", b"ho" + EVIL.encode() + b"st.log\xff.log"),
    ],
    "exposure": [("exposure", *WEEK), ("exposure", *WEEK, "--json"), ("exposure", "--week", EVIL)],
    "links": [("links", *WEEK), ("links", *WEEK, "--json"), ("links", "--week", EVIL)],
    "moment": [("moment", "2026-11-17T10:00"), ("moment", "2026-11-17T10:00", "--json"), ("moment", EVIL)],
    "note": [("note", "add", "--at", "2026-11-17", f"new feeder {EVIL}"), ("note", "list"), ("note", "drop", EVIL)],
    "reception": [("reception", *WEEK), ("reception", *WEEK, "--json"), ("reception", "--week", EVIL)],
    "backup": [("backup", f"no{EVIL}where/copy.db"), ("backup", f"copy{EVIL}.db"), ("backup", "station.toml")],
    "restore": [("restore", f"none{EVIL}"), ("restore", f"copy{EVIL}.db", "--dry-run")],
    "forget": [("forget", f"QA9{EVIL}"), ("forget", NAME + EVIL)],
    "init": [("init", "--station", f"no{EVIL}where/station.toml")],
    "password": [("password", "--station", f"none{EVIL}")],
    "demo": [("demo", "--folder", f"station.toml{EVIL}", EVIL)],
    "serve": [("serve", "--station", f"none{EVIL}")],
}


@pytest.mark.parametrize("command", COMMANDS)
def test_no_command_lets_anything_act_on_the_terminal(station: Path, command: str) -> None:
    for arguments in ASKED[command]:
        code, out, err = run(station, *arguments)
        assert acts(out) == set() == acts(err), arguments
        assert "Traceback" not in err and "defect" not in err, err
        assert code in (0, 1, 2, 130)


def test_what_is_for_programs_stays_whole(station: Path) -> None:
    found = json.loads(run(station, "alerts", "--json")[1])
    assert found[0]["says"].startswith(f"says {EVIL}")
    _, out, _ = run(station, "overs", *WEEK, "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert len(rows) == 60 and rows[0]["station"].startswith(r"QA1\x1b[31M")


def test_the_unread_file_is_told_with_its_name_escaped(station: Path) -> None:
    code, _, err = run(station, "ingest")
    assert code == 1 and r"bro\x1b[31mken.log.1.gz: can't be read to its end" in err
