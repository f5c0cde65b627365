"""kill -9 at any instant loses and repeats nothing: the store is, row for row, that of an undisturbed run."""

import json
import random
import subprocess
import sys
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.intake.ingest import Intake
from server.store import schema
from server.store.engine import open_store, reading
from tests.intake.conftest import T0, Folder

KILLS = 200
COMPARED = {
    schema.over: ("start", "end", "until", "mode", "slot", "side", "station", "target", "cause", "ber_pct", "doubtful"),
    schema.open_over: ("start", "mode", "slot", "side", "station", "target"),
    schema.event: ("t", "event", "mode", "station", "reason"),
    schema.line_hour: ("hour", "understood", "ignored", "unread"),
    schema.unread_line: ("t", "text", "cut"),
    schema.log: ("name", "lines", "understood", "ignored", "unread", "first_us", "last_us", "carry_us"),
}


def host_lines(count: int, seed: int) -> list[bytes]:
    """What a host might write: overs that start and end, refusals, heartbeats, a few lines that nobody can read."""
    import datetime as dt

    rng = random.Random(seed)
    lines = []
    for number in range(count):
        stamp = dt.datetime.fromtimestamp(T0 + number * 7, dt.UTC).isoformat()
        kind = rng.choice(["over-start", "over-end", "over-end", "over-start", "refused", "alive", "?"])
        slot = rng.choice([1, 2])
        if kind == "?":
            lines.append(f"{number} unreadable \u00e9\n".encode("latin-1"))
            continue
        row = {
            "t": stamp,
            "event": kind,
            "mode": "dmr",
            "slot": slot,
            "station": f"QA1{rng.choice('ABC')}XX",
            "target": str(number),
        }
        lines.append(json.dumps(row).encode() + b"\n")
    return lines


def rows_of(station_folder: Path, database: str) -> dict[str, list[tuple]]:
    engine = open_store(f"sqlite:///{station_folder / database}")
    with reading(engine) as connection:
        found = {}
        for table, names in COMPARED.items():
            rows = [tuple(row) for row in connection.execute(sa.select(*(table.c[name] for name in names)))]
            found[table.name] = sorted(
                rows, key=repr
            )  # the order of rows of one batch depends on where batches were cut
    engine.dispose()
    return found


def driver(work: str, station_file: Path, seed: int) -> int:
    command = [sys.executable, "-m", "tests.intake.kill_driver", work, str(station_file), str(KILLS), str(seed)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stderr[-2000:]
    return int(done.stdout)


def undisturbed(folder: Folder, database: str) -> dict[str, list[tuple]]:
    engine = open_store(f"sqlite:///{folder.path / database}")
    Intake(engine, folder.station).catch_up()
    engine.dispose()
    return rows_of(folder.path, database)


@pytest.mark.parametrize("seed", [1])
def test_a_backfill_killed_at_200_instants_gives_the_store_of_an_undisturbed_one(tmp_path: Path, seed: int) -> None:
    folder = Folder(tmp_path)
    folder.close()
    lines = host_lines(6000, seed)
    (tmp_path / "host.log.2").write_bytes(b"".join(lines[:2000]))
    (tmp_path / "host.log.1").write_bytes(b"".join(lines[2000:4000]))
    (tmp_path / "host.log").write_bytes(b"".join(lines[4000:]))
    assert driver("backfill", folder.station_file, seed) == KILLS
    assert rows_of(tmp_path, "airtally.db") == undisturbed(folder, "reference.db")


@pytest.mark.parametrize("seed", [2])
def test_a_follower_killed_at_200_instants_gives_the_store_of_an_undisturbed_run(tmp_path: Path, seed: int) -> None:
    folder = Folder(tmp_path)
    folder.close()
    (tmp_path / "to-write").write_bytes(b"".join(host_lines(4000, seed)))
    assert driver("follow", folder.station_file, seed) == KILLS
    found = rows_of(tmp_path, "airtally.db")
    assert found["log"][0][1] == 4000
    assert found == undisturbed(folder, "reference.db")
