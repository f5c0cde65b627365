"""A log is its content, not its path; and equal beginnings are not equal files."""

import gzip
import os
import shutil
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.intake.rungs import FIRST_BYTES, PLACES, Ladder, alike_bytes
from server.store import schema
from tests.intake.conftest import Folder, MakeFolder, over_line

KIB = 1 << 10


def lines(*numbers: int) -> bytes:
    return b"".join(over_line(number) for number in numbers)


def banner(size: int) -> bytes:
    """What a host writes at the top of each of its files; nobody reads it."""
    row = b"# Brackenfell host, built on a Tuesday, listening on all its ports\n"
    return (row * (size // len(row) + 1))[: size - 1] + b"\n"


def station(place: Path, log: str) -> Folder:
    """A station whose store and file lie in `place`."""
    return Folder(place, logs=(log,))


@pytest.fixture
def hill(tmp_path: Path) -> Path:
    (tmp_path / "hill" / "logs").mkdir(parents=True)
    (tmp_path / "hill/logs/host.log.1").write_bytes(lines(*range(100)))
    (tmp_path / "hill/logs/host.log").write_bytes(lines(*range(100, 130)))
    return tmp_path / "hill"


def read_again(place: Path, log: str) -> list[int]:
    """What is stored after one more pass, which finds one new line besides."""
    with (place / "logs/host.log").open("ab") as file:
        file.write(lines(500))
    one = station(place, log)
    try:
        assert one.catch_up().lines == 1
        assert one.catch_up().lines == 0
        assert len(one.rows(schema.log, "id")) == 1
        return one.numbers()
    finally:
        one.close()


WHOLE = [*range(130), 500]


@pytest.mark.parametrize(
    "spelling",
    [
        "./logs/host.log",
        "./logs/../logs/host.log",
        "{here}/logs/host.log",
        "linked/host.log",
        "logs/host-now.log",
        "logs/*.log",
    ],
)
def test_a_log_whose_path_is_spelt_anew_is_the_log_it_was(hill: Path, spelling: str) -> None:
    (hill / "linked").symlink_to(hill / "logs")
    (hill / "logs/host-now.log").symlink_to(hill / "logs/host.log")
    one = station(hill, "logs/host.log")
    one.catch_up()
    one.close()
    assert read_again(hill, spelling.format(here=hill)) == WHOLE


@pytest.mark.parametrize("way", ["move", "copy", "link"])
def test_a_station_whose_folder_moves_with_its_store_reads_on(hill: Path, tmp_path: Path, way: str) -> None:
    one = station(hill, "logs/host.log")
    one.catch_up()
    one.close()
    there = tmp_path / "elsewhere" / "fell"
    there.parent.mkdir()
    match way:
        case "move":
            hill.rename(there)
        case "copy":
            shutil.copytree(hill, there)  # other inodes; the old folder is still there
        case "link":
            there.symlink_to(hill)
    assert read_again(there, "logs/host.log") == WHOLE


def test_a_log_folder_that_moves_and_is_rotated_on_the_way_reads_on(hill: Path) -> None:
    one = station(hill, "logs/host.log")
    one.catch_up()
    one.close()
    (hill / "logs").rename(hill / "other")
    (hill / "other/host.log.2.gz").write_bytes(gzip.compress((hill / "other/host.log.1").read_bytes()))
    (hill / "other/host.log").rename(hill / "other/host.log.1")
    (hill / "other/host.log").write_bytes(lines(500))
    one = station(hill, "other/host.log")
    said = one.catch_up()
    assert said.lines == 1 and "is the log that lay at" in said.notes[0]
    assert one.numbers() == WHOLE
    assert [row[0] for row in one.rows(schema.log, "name")] == [str(hill / "other/host.log")]
    one.close()


def test_a_file_that_is_put_into_an_archive_is_not_read_again(folder: MakeFolder) -> None:
    one = folder("host.log", "archive/host.log")
    one.write("host.log.1", lines(1, 2))
    one.write("host.log", lines(3))
    one.catch_up()
    (one.path / "archive").mkdir()
    (one.path / "host.log.1").rename(one.path / "archive/host.log.1")
    one.restart()
    one.catch_up()
    assert one.numbers() == [1, 2, 3]


@pytest.mark.parametrize("size", [4 * KIB, 8 * KIB, 64 * KIB, 100_000])
def test_logs_of_two_hosts_that_start_alike_are_two(folder: MakeFolder, size: int) -> None:
    one = folder("a.log", "b.log")
    one.write("a.log", banner(size) + lines(1))
    one.write("b.log", banner(size) + lines(1))  # and even their first line is one that both were told
    one.catch_up()
    one.write("a.log", lines(2))
    one.write("b.log", lines(3))
    one.catch_up()
    one.restart()
    one.catch_up()
    assert sorted(one.numbers()) == [1, 1, 2, 3]
    assert len(one.rows(schema.log, "id")) == 2


@pytest.mark.parametrize("size", [200, 4 * KIB, 8 * KIB, 64 * KIB, 200 * KIB])
@pytest.mark.parametrize("left", ["all", "none"])
def test_every_daily_file_under_a_banner_is_read_whole(folder: MakeFolder, size: int, left: str) -> None:
    one = folder("host-*.log")
    at_top = banner(size)
    count = at_top.count(b"\n")
    for day in range(1, 8):
        if left == "none":
            (one.path / f"host-2026-02-0{day - 1}.log").unlink(missing_ok=True)
        one.write(f"host-2026-02-0{day}.log", at_top)
        one.catch_up()
        one.write(f"host-2026-02-0{day}.log", lines(*range(day * 500, day * 500 + 200)))
        one.catch_up()
    assert one.numbers() == [day * 500 + n for day in range(1, 8) for n in range(200)]
    assert one.rows(schema.log, "lines", "unread") == [(7 * (200 + count), 7 * count)]
    assert one.rows(schema.waiting_file, "path") == []


@pytest.mark.parametrize("size", [4 * KIB, 64 * KIB])
def test_rotated_and_packed_files_under_a_banner_are_each_read_once(folder: MakeFolder, size: int) -> None:
    one = folder()
    for week in range(6):
        live, first, second = (one.path / f"host.log{mark}" for mark in ("", ".1", ".2.gz"))
        if first.exists():
            second.write_bytes(gzip.compress(first.read_bytes()))
        if live.exists():
            live.rename(first)
        one.write("host.log", banner(size) + lines(*range(week * 100, week * 100 + 50)))
        one.restart()
        one.catch_up()
        one.catch_up()
    assert one.numbers() == [week * 100 + n for week in range(6) for n in range(50)]


def test_lines_that_several_files_begin_with_belong_to_each_of_them(folder: MakeFolder) -> None:
    one = folder("host-*.log")
    alike = lines(*range(60))  # 6 KiB that are understood
    one.write("host-2026-02-01.log", alike + lines(100))
    one.catch_up()
    one.write("host-2026-02-02.log", alike + lines(101))
    one.catch_up()
    assert one.numbers()[-2:] == [100, 101]
    assert len(one.numbers()) == 122


def test_a_file_that_can_not_be_told_from_another_waits_says_so_once_and_goes_on_by_itself(folder: MakeFolder) -> None:
    one = folder("host-*.log")
    one.write("host-2026-02-01.log", banner(5000) + lines(1))
    one.write("host-2026-02-02.log", banner(5000))
    said = one.catch_up().notes
    assert len(said) == 1 and "host-2026-02-02.log: so far holds nothing that" in said[0]
    assert one.catch_up().notes == []
    assert one.rows(schema.waiting_file, "says") == [(said[0],)]
    one.write("host-2026-02-02.log", lines(2))
    assert one.catch_up().notes == []
    assert one.numbers() == [1, 2]
    assert one.rows(schema.waiting_file, "says") == []


def test_a_file_that_holds_more_than_one_that_ends_within_a_line_is_not_told_to_hold_nothing_more(
    folder: MakeFolder,
) -> None:
    one = folder()
    whole, half = lines(1, 2, 3), lines(4)[:20]
    one.write("host.log", whole + half)
    assert one.catch_up().lines == 3
    one.write("host.log.1", whole + half + lines(4)[20:] + lines(5))
    (said,) = one.catch_up().notes
    assert "host.log.1: holds all that was read of" in said and "and more." in said
    assert "nothing that" not in said
    one.write("host.log", lines(4)[20:])  # the last line is whole: the other one goes on from it
    for _ in range(3):
        caught = one.catch_up()
    assert caught.troubles == [] and one.numbers() == [1, 2, 3, 4, 5]


def test_a_copy_that_is_still_growing_is_not_read(folder: MakeFolder) -> None:
    one = folder("*.log")
    whole = banner(64 * KIB) + lines(*range(3000))
    one.write("host.log", whole)
    one.catch_up()
    for share in (0.01, 0.3, 0.7, 1):
        (one.path / "host-copy.log").write_bytes(whole[: int(len(whole) * share)])
        one.catch_up()
        one.restart()
    one.write("host.log", lines(4000))
    one.catch_up()
    assert one.numbers() == [*range(3000), 4000]


@pytest.mark.parametrize("grown", [0, 30])
def test_a_log_under_a_banner_put_back_to_an_older_state_goes_on(folder: MakeFolder, grown: int) -> None:
    one = folder()
    one.write("host.log", banner(8 * KIB) + lines(*range(400)))
    one.catch_up()
    os.replace(
        one.write("older", banner(8 * KIB) + lines(*range(200), *range(1000, 1000 + grown))), one.path / "host.log"
    )
    one.catch_up()
    one.write("host.log", lines(2000))
    one.catch_up()
    found = one.numbers()
    assert set(found) == {*range(400), *range(1000, 1000 + grown), 2000}
    assert (
        len(found) - len(set(found)) <= (grown > 0) * 12
    )  # where it grew unseen, the lines between two rungs can't be told apart


@given(st.lists(st.binary(max_size=3000), max_size=30), st.integers(0, 2**32))
@settings(max_examples=60, deadline=None)
def test_rungs_do_not_depend_on_how_a_file_was_read_and_tell_where_two_part(parts: list[bytes], changed: int) -> None:
    whole = b"".join(parts) * 5
    ladder = Ladder()
    for part in parts * 5:
        ladder = ladder.grow(part)
    assert ladder == Ladder().grow(whole)
    assert len(ladder.digests) // 8 == sum(place <= len(whole) for place in PLACES)
    if whole:
        at = changed % len(whole)
        other = whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :]
        alike = alike_bytes(ladder.digests, Ladder().grow(other).digests)
        assert alike <= at and all(place <= alike or place > at for place in PLACES if place <= len(whole))


def test_rungs_stand_close_and_end() -> None:
    assert PLACES[-1] == FIRST_BYTES
    assert all(b - a <= max(256, a // 16 + 256) for a, b in pairwise(PLACES))
    assert Ladder().grow(b"x" * (FIRST_BYTES + 5)) == Ladder().grow(b"x" * FIRST_BYTES)
