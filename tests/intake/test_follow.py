"""Following: lines are in the store within a second of being written, whatever happens to the file meanwhile."""

import sqlite3
import time
from collections.abc import Callable

from server.intake.follow import Follower
from server.store.engine import open_store
from tests.intake.conftest import Folder, MakeFolder, over_line


def until(true: Callable[[], bool], seconds: float) -> float:
    """How long it took to become true; fails when it takes longer than `seconds`."""
    begun = time.monotonic()
    while not true():
        assert time.monotonic() - begun < seconds, "it did not happen in time"
        time.sleep(0.01)
    return time.monotonic() - begun


def followed(one: Folder) -> Follower:
    follower = Follower(one.intake, [one.path])
    follower.start()
    return follower


def test_appended_lines_are_stored_within_a_second(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", over_line(0))
    follower = followed(one)
    try:
        until(lambda: one.numbers() == [0], 10)
        waits = []
        for number in range(1, 8):
            one.write("host.log", over_line(number))
            waits.append(until(lambda: one.numbers()[-1] == number, 5))  # noqa: B023
        assert sorted(waits)[len(waits) // 2] < 1.0  # the median: a busy machine may be late once
    finally:
        follower.stop()


def test_a_log_that_appears_and_one_that_is_rotated_are_followed(folder: MakeFolder) -> None:
    one = folder()
    follower = followed(one)
    try:
        one.write("host.log", over_line(1))
        until(lambda: one.numbers() == [1], 10)
        (one.path / "host.log").rename(one.path / "host.log.1")
        one.write("host.log.1", over_line(2))
        one.write("host.log", over_line(3))
        until(lambda: one.numbers() == [1, 2, 3], 10)
    finally:
        follower.stop()


def test_a_locked_store_keeps_the_follower_up_and_the_lines_waiting(folder: MakeFolder) -> None:
    one = folder()
    impatient = open_store(one.station.store_url(), busy_ms=20)
    one.intake._context.engine = impatient
    holder = sqlite3.connect(one.path / "airtally.db", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    follower = followed(one)
    try:
        one.write("host.log", over_line(1))
        until(lambda: follower.trouble is not None, 10)
        assert "holds the store locked" in (follower.trouble or "")
        holder.execute("ROLLBACK")
        until(lambda: one.numbers() == [1], 10)
        until(lambda: follower.trouble is None, 10)
    finally:
        holder.close()
        follower.stop()
        impatient.dispose()


def test_two_airtallies_on_one_store_read_each_line_once(folder: MakeFolder) -> None:
    one = folder()
    other = Folder(one.path)
    first, second = followed(one), followed(other)
    try:
        for number in range(60):
            one.write("host.log", over_line(number))
            time.sleep(0.01)
        until(lambda: len(one.numbers()) >= 60, 20)
    finally:
        first.stop()
        second.stop()
        other.close()
    assert one.numbers() == list(range(60))
