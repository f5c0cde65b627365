"""Kills an intake at random instants, many times over, and lets it finish: run as a process of its own, whose children
are forked before any thread is there.

usage: python -m tests.intake.kill_driver backfill|follow STATION_FILE KILLS SEED
"""

import os
import random
import signal
import sys
import time
from pathlib import Path

from server.config import load_station
from server.intake.follow import Follower
from server.intake.ingest import Intake
from server.store.engine import open_store

BLOCK = 4096  # small, so that a run has many transactions to be killed in and between


def child(work: str, station_file: Path) -> int:
    """Start the work in a child process; its process id."""
    pid = os.fork()
    if pid:
        return pid
    status = 1
    try:
        station = load_station(station_file)
        intake = Intake(open_store(station.store_url()), station, block_bytes=BLOCK)
        if work == "backfill":
            intake.catch_up()
        else:
            Follower(intake, [station.folder]).start()
            while True:
                time.sleep(60)
        status = 0
    finally:
        os._exit(status)


def killed_at(pid: int, delay: float) -> bool:
    """Kill it after a delay; False where it had finished by then."""
    end = time.monotonic() + delay
    while time.monotonic() < end:
        if os.waitpid(pid, os.WNOHANG)[0]:
            return False
        time.sleep(0.0005)
    os.kill(pid, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == -signal.SIGKILL


def backfill(station_file: Path, kills: int, rng: random.Random) -> int:
    """Kill backfills until `kills` have hit; start over with an empty store whenever one has finished. Ends with a
    finished store.
    """
    hits = 0
    while True:
        if not killed_at(child("backfill", station_file), rng.uniform(0.02, 0.45) if hits < kills else 120):
            if hits >= kills:
                return hits
            for file in station_file.parent.glob("airtally.db*"):
                file.unlink()
        else:
            hits += 1


def follow(station_file: Path, kills: int, rng: random.Random) -> int:
    """Kill followers while a host writes and rotates; lines come from `to-write`, a few at a time."""
    folder = station_file.parent
    lines = (folder / "to-write").read_bytes().splitlines(keepends=True)
    live, rotated = folder / "host.log", 0
    live.touch()
    share = max(len(lines) // kills, 1)
    for round_ in range(kills):
        pid = child("follow", station_file)
        until = time.monotonic() + rng.uniform(0.02, 0.3)
        batch = lines[round_ * share : (round_ + 1) * share] if round_ < kills - 1 else lines[round_ * share :]
        for number, line in enumerate(batch):
            with live.open("ab") as file:  # a line in two parts now and then
                cut = rng.randrange(len(line)) if rng.random() < 0.2 else len(line)
                file.write(line[:cut])
                file.flush()
                file.write(line[cut:])
            if rng.random() < 0.01:
                rotated += 1
                live.rename(folder / f"host.log.2026{1000 + rotated}")
                live.touch()
            if number % 5 == 0:
                time.sleep(max(until - time.monotonic(), 0) / max(len(batch), 1))
        assert killed_at(pid, max(until - time.monotonic(), 0))
    assert not killed_at(child("backfill", station_file), 120)
    return kills


if __name__ == "__main__":
    work, station_text, kills_text, seed = sys.argv[1:]
    run = {"backfill": backfill, "follow": follow}[work]
    print(run(Path(station_text), int(kills_text), random.Random(int(seed))))
