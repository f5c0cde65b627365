"""Faults of paths and contents: logs that move, are respelt, linked, begin alike, or are read again by somebody who is
killed.
"""

import os
import shutil

from server.config import load_station
from server.intake.again import read_again
from tests.intake.faults import Attempt, fault


def _named(attempt: Attempt, *paths: str) -> None:
    """The station file names these logs, and a new process reads it."""
    logs = "".join(f'[[log]]\npath = "{path}"\n' for path in paths)
    station_file = attempt.folder.station_file
    station_file.write_text(f'[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n{logs}')
    attempt.folder.station = load_station(station_file)
    attempt.restart()


def _spelt(attempt: Attempt, name: str) -> str:
    """One of the ways to a log."""
    return attempt.rng.choice(
        [name, f"./{name}", f"more/../{name}", f"{attempt.path}/{name}", f"here/{name}", f"more/../here/./{name}"]
    )


@fault("a log's path is spelt anew: relative, absolute, with dots, through links")
def respelt(attempt: Attempt) -> None:
    (attempt.path / "here").symlink_to(attempt.path)
    for _ in range(attempt.rng.randint(2, 5)):
        _named(attempt, _spelt(attempt, "*.log"), _spelt(attempt, "more/*.log"))
        attempt.write("a.log", attempt.rng.randint(1, 40))
        attempt.write("more/b.log", attempt.rng.randint(1, 40))
        attempt.look()
        if attempt.rng.random() < 0.5:
            os.replace(attempt.path / "a.log", attempt.path / f"a.log.{20260101 + len(attempt.expected)}")


@fault("a log's folder moves, and is copied")
def moved(attempt: Attempt) -> None:
    place = "more"
    for number in range(attempt.rng.randint(2, 5)):
        attempt.write(f"{place}/b.log", attempt.rng.randint(1, 40))
        if attempt.rng.random() < 0.8:
            attempt.look()
        new = f"other{number}"
        if attempt.rng.random() < 0.5:
            shutil.copytree(attempt.path / place, attempt.path / new)
        else:
            (attempt.path / place).rename(attempt.path / new)
        place = new
        _named(attempt, f"{place}/*.log")


@fault("links to a log beside it")
def linked(attempt: Attempt) -> None:
    attempt.write("m.log", attempt.rng.randint(1, 40))
    for name in attempt.rng.sample(["a.log", "z.log", "more/m.log", "more/a.log"], 2):
        attempt.look()
        link = os.symlink if attempt.rng.random() < 0.5 else os.link
        link(attempt.path / "m.log", attempt.path / name)
        attempt.write("m.log", attempt.rng.randint(1, 40))


@fault("files under one banner of 4, 8 or 64 KiB, rotated, deleted, copied")
def banners(attempt: Attempt) -> None:
    row = b" " * 30 + b"\n"  # of lines that say nothing: what is unread counts as wrong here
    banner = row * (attempt.rng.choice([4, 8, 64]) * 1024 // len(row) + 1)
    for day in range(1, attempt.rng.randint(3, 6)):
        name = f"host-2026-02-0{day}.log"
        (attempt.path / name).write_bytes(banner)
        if attempt.rng.random() < 0.5:
            attempt.look()
        attempt.write(name, 60)
        attempt.look()
        attempt.write(name, attempt.rng.randint(1, 40))
        attempt.look()
        if attempt.rng.random() < 0.3:
            shutil.copy(attempt.path / name, attempt.path / f"{name}.1")
        elif attempt.rng.random() < 0.3:
            (attempt.path / name).unlink()
        if attempt.rng.random() < 0.3:
            attempt.restart()


@fault("equal files, and lines that several files begin with")
def equal_files(attempt: Attempt) -> None:
    attempt.write("a.log", attempt.rng.randint(1, 80))
    if attempt.rng.random() < 0.5:
        attempt.look()
    shutil.copy(attempt.path / "a.log", attempt.path / attempt.rng.choice(["a.log.1", "b.log", "more/a.log"]))
    attempt.look()
    attempt.write("a.log", attempt.rng.randint(1, 40))


class _Killed(BaseException):
    """Stands for a kill: nothing after it runs."""


@fault("reading again, ended at a random instant, beside whoever follows")
def again_ended(attempt: Attempt) -> None:
    for _ in range(3):
        attempt.write("a.log", attempt.rng.randint(20, 80))
        if attempt.rng.random() < 0.8:
            attempt.look()
        left = attempt.rng.randint(0, 12)

        def step(_count: int, _path: str) -> None:
            nonlocal left
            left -= 1
            if left < 0:
                raise _Killed

        if attempt.rng.random() < 0.3:
            os.replace(attempt.path / "a.log", attempt.path / f"a.log.{20260101 + len(attempt.expected)}")
            attempt.write("a.log", 3)
        before = attempt.folder.numbers()
        try:
            read_again(attempt.folder.engine, attempt.folder.station, progress=step)
        except _Killed:
            attempt.check(attempt.folder.numbers() == before, "something had changed before the end")
