"""Each surviving line arrives exactly once, whatever happens to the files that hold it."""

import bz2
import gzip
import lzma
import os
import shutil
import tempfile
from pathlib import Path
from typing import Any

import pytest
import zstandard
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from server.intake import context, discovery, fingerprints
from server.store import schema
from tests.intake.conftest import Folder, MakeFolder, over_line


def start_line(number: int) -> bytes:
    return over_line(number).replace(b'"event": "over"', b'"event": "over-start"').replace(b', "seconds": 2.0', b"")


def end_line(number: int) -> bytes:
    return over_line(number).replace(b'"event": "over"', b'"event": "over-end"').replace(b', "seconds": 2.0', b"")


def lines(*numbers: int) -> bytes:
    return b"".join(over_line(number) for number in numbers)


def test_appended_lines_arrive_once(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", lines(1, 2))
    one.catch_up()
    one.write("host.log", lines(3))
    one.catch_up()
    one.catch_up()
    assert one.numbers() == [1, 2, 3]


def test_a_partial_last_line_waits_for_its_end(folder: MakeFolder) -> None:
    one = folder()
    whole = over_line(2)
    one.write("host.log", lines(1) + whole[:30])
    assert one.catch_up().lines == 1
    one.write("host.log", whole[30:])
    assert one.catch_up().lines == 1
    assert one.numbers() == [1, 2]


def test_rename_and_create_loses_nothing_written_before_or_after(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", lines(1))
    one.catch_up()
    one.write("host.log", lines(2))
    (one.path / "host.log").rename(one.path / "host.log.1")
    one.write("host.log.1", lines(3))  # the host still holds the old file open
    one.write("host.log", lines(4))
    one.catch_up()
    assert one.numbers() == [1, 2, 3, 4]


@pytest.mark.parametrize("moment", ["after the names were listed", "after the files were found"])
def test_a_rotation_while_files_are_looked_for_keeps_the_order_of_lines(
    folder: MakeFolder, monkeypatch: pytest.MonkeyPatch, moment: str
) -> None:
    one = folder()
    one.write("host.log", lines(1))
    one.catch_up()
    one.write("host.log", start_line(2))
    waiting = [True]

    def rotated(result: Any) -> Any:
        if waiting.pop() if waiting else False:
            (one.path / "host.log").rename(one.path / "host.log.20260202")
            one.write("host.log", end_line(5))
        return result

    if moment == "after the names were listed":
        listed = discovery._matching
        monkeypatch.setattr(discovery, "_matching", lambda *arguments: rotated(list(listed(*arguments))))
    else:
        found = context.discover
        monkeypatch.setattr(context, "discover", lambda *arguments: rotated(found(*arguments)))
    one.catch_up()
    one.catch_up()
    over = schema.over
    assert not waiting
    assert sorted((end - start) // 1_000_000 for start, end in one.rows(over, "start", "end")) == [2, 3]
    assert one.rows(schema.open_over, "start") == []


def test_a_packed_copy_that_breaks_off_and_its_whole_in_one_pass_arrive_once(folder: MakeFolder) -> None:
    one = folder()
    one.restart(block_bytes=8192)
    numbers = range(3000)
    packed = gzip.compress(lines(*numbers))
    one.write("host.log.2.gz", packed[: len(packed) // 2])
    one.write("host.log.1", lines(*numbers))
    one.write("host.log", lines(3000))
    assert len(one.catch_up().troubles) == 1
    assert one.numbers() == list(range(3001))


def test_looks_into_files_grow_with_their_number_not_its_square(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    looks = []
    looked = fingerprints.read_until_damage
    monkeypatch.setattr(
        fingerprints, "read_until_damage", lambda stream, count: (looks.append(count), looked(stream, count))[1]
    )
    per_file = []
    for count in (10, 40):
        (tmp_path / str(count)).mkdir()
        one = Folder(tmp_path / str(count), logs=("host-*.log",))
        for day in range(count):
            one.write(f"host-2026-{1 + day // 28:02}-{1 + day % 28:02}.log", lines(day))
        looks.clear()
        assert one.catch_up().lines == count
        one.close()
        per_file.append(len(looks) / count)
    assert per_file[1] <= per_file[0] + 1


def test_copy_and_truncate_loses_nothing_that_the_copy_holds(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", lines(1))
    one.catch_up()
    one.write("host.log", lines(2))
    shutil.copy2(one.path / "host.log", one.path / "host.log.1")
    one.catch_up()  # between copy and truncation both are there
    os.truncate(one.path / "host.log", 0)
    one.write("host.log", lines(3, 4, 5, 6))  # longer than before, and the same inode
    one.catch_up()
    assert one.numbers() == [1, 2, 3, 4, 5, 6]


def test_unread_lines_of_a_copy_are_read_after_the_truncation(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", lines(1))
    one.catch_up()
    one.write("host.log", lines(2, 3))
    shutil.copy2(one.path / "host.log", one.path / "host.log.1")
    os.truncate(one.path / "host.log", 0)
    one.write("host.log", lines(4))
    one.catch_up()
    assert one.numbers() == [1, 2, 3, 4]


PACKERS = {".gz": gzip.compress, ".xz": lzma.compress, ".bz2": bz2.compress, ".zst": zstandard.compress}


@pytest.mark.parametrize("suffix", PACKERS)
def test_a_packed_sibling_is_read_and_known_again_after_packing(folder: MakeFolder, suffix: str) -> None:
    one = folder()
    one.write(f"host.log.2{suffix}", PACKERS[suffix](lines(1, 2)))
    one.write("host.log.1", lines(3, 4))
    one.write("host.log", lines(5))
    one.catch_up()
    assert one.numbers() == [1, 2, 3, 4, 5]
    packed = PACKERS[suffix]((one.path / "host.log.1").read_bytes())
    (one.path / "host.log.1").unlink()
    one.write(f"host.log.3{suffix}", packed)
    one.restart()
    one.catch_up()
    assert one.numbers() == [1, 2, 3, 4, 5]


@pytest.mark.parametrize("suffix", PACKERS)
@pytest.mark.parametrize("share", [0.05, 0.5, 0.99])
def test_a_packed_file_that_breaks_off_gives_what_it_holds_and_is_read_on_when_it_is_whole(
    folder: MakeFolder, suffix: str, share: float
) -> None:
    one = folder()
    whole = PACKERS[suffix](lines(*range(1000))) + PACKERS[suffix](
        lines(*range(1000, 3000))
    )  # two members, as packers may write
    one.write(f"host.log.1{suffix}", whole[: int(len(whole) * share)])
    caught = one.catch_up()
    assert caught.troubles and "can't be read to its end" in caught.troubles[0]
    found = one.numbers()
    assert found == list(range(len(found))) and len(found) < (
        3000 if share < 0.9 else 3001
    )  # whole lines, from the first on
    assert caught.unread == 0
    one.write(f"host.log.1{suffix}", whole, mode="wb")
    assert one.catch_up().troubles == []
    assert one.numbers() == list(range(3000))


def test_the_same_file_under_two_globs_and_a_link_is_read_once(folder: MakeFolder) -> None:
    one = folder("*.log", "host*")
    one.write("host.log", lines(1, 2))
    (one.path / "host-link.log").symlink_to(one.path / "host.log")
    one.catch_up()
    assert one.numbers() == [1, 2]


def test_a_copy_kept_beside_the_log_is_not_read_again(folder: MakeFolder) -> None:
    one = folder("host.log*")
    one.write("host.log", lines(1, 2))
    one.catch_up()
    shutil.copy(one.path / "host.log", one.path / "host.log.1")
    one.restart()
    one.catch_up()
    assert one.numbers() == [1, 2]


def test_a_log_goes_on_after_a_copy_of_it_was_read_in_its_place(folder: MakeFolder) -> None:
    one = folder("host.log*")
    one.write("host.log", lines(1, 2))
    shutil.copy(one.path / "host.log", one.path / "host.log.1")
    one.catch_up()  # the copy counts as the older file, and is read first
    one.write("host.log", lines(3))
    one.catch_up()
    one.restart()
    one.write("host.log", lines(4))
    one.catch_up()
    assert one.numbers() == [1, 2, 3, 4]


def test_a_log_that_appears_later_and_one_that_is_replaced_are_read(folder: MakeFolder) -> None:
    one = folder("logs/*.log")
    assert one.catch_up().lines == 0
    (one.path / "logs").mkdir()
    one.write("logs/host.log", lines(1))
    one.catch_up()
    (one.path / "logs/host.log").unlink()
    one.write("logs/host.log", lines(7, 8))
    one.catch_up()
    assert one.numbers() == [1, 7, 8]


def test_a_live_log_put_back_to_an_older_state_repeats_nothing_and_goes_on(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", lines(*range(200)))
    one.catch_up()
    one.write("host.log", lines(*range(100)), mode="wb")
    one.catch_up()
    one.write("host.log", lines(300))
    one.catch_up()
    assert one.numbers() == [*range(200), 300]


def test_an_over_that_begins_before_a_rotation_ends_after_it(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", b'{"t":"2026-11-16T10:00:00Z","event":"over-start","mode":"fm"}\n')
    one.catch_up()
    (one.path / "host.log").rename(one.path / "host.log.1")
    one.write("host.log", b'{"t":"2026-11-16T10:00:09Z","event":"over-end","mode":"fm","target":"9"}\n')
    one.restart()
    one.catch_up()
    assert one.numbers() == [9]


def test_dated_files_of_one_name_are_one_log(folder: MakeFolder) -> None:
    one = folder("host-*.log")
    one.write("host-2026-11-16.log", b'{"t":"2026-11-16T23:59:58Z","event":"over-start","mode":"fm"}\n')
    one.write("host-2026-11-17.log", b'{"t":"2026-11-17T00:00:04Z","event":"over-end","mode":"fm","target":"6"}\n')
    one.catch_up()
    assert one.numbers() == [6]


def test_an_older_sibling_found_later_pairs_by_itself(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", b'{"t":"2026-11-16T10:00:00Z","event":"over-start","mode":"fm","target":"1"}\n')
    one.catch_up()
    one.write("host.log.1", b'{"t":"2026-11-15T10:00:00Z","event":"over-start","mode":"fm"}\n')
    one.write("host.log.1", b'{"t":"2026-11-15T10:00:05Z","event":"over-end","mode":"fm","target":"0"}\n')
    one.catch_up()
    one.write("host.log", b'{"t":"2026-11-16T10:00:07Z","event":"over-end","mode":"fm"}\n')
    one.catch_up()
    assert one.numbers() == [0, 1]


def test_a_last_line_without_its_end_is_whole_in_a_file_that_was_rotated_away(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log.1", lines(1, 2).rstrip(b"\n"))
    one.write("host.log", lines(3))
    one.catch_up()
    assert one.numbers() == [1, 2, 3]


class Rotator(RuleBasedStateMachine):
    """Plays host and log rotator at random, and keeps the list of what must have arrived."""

    @initialize(block=st.sampled_from([256, 1000, 1 << 20]))
    def begin(self, block: int) -> None:
        self.place = tempfile.TemporaryDirectory()
        self.folder = Folder(Path(self.place.name))
        self.block = block
        self.folder.restart(block)
        self.written = 0
        self.partial = b""
        self.expected: list[int] = []
        self.waiting: list[int] = []  # whole lines in the files that nobody has read yet

    @property
    def live(self) -> Path:
        return self.folder.path / "host.log"

    @rule(count=st.integers(1, 8))
    def append(self, count: int) -> None:
        for _ in range(count):
            data = self.partial or over_line(self.written)
            self.partial = b""
            self.folder.write("host.log", data)
            self.waiting.append(self.written)
            self.written += 1

    @rule(cut=st.integers(1, 60))
    def append_a_part(self, cut: int) -> None:
        if not self.partial:
            whole = over_line(self.written)
            self.folder.write("host.log", whole[:cut])
            self.partial = whole[cut:]

    @rule()
    def rename_and_create(self) -> None:
        if self.partial:
            self.append(1)
        self._shift()
        if self.live.exists():
            self.live.rename(self.folder.path / "host.log.1")
        self.live.touch()

    @rule(look=st.booleans())
    def copy_and_truncate(self, look: bool) -> None:
        if self.partial:
            self.append(1)
        self._shift()
        if self.live.exists():
            shutil.copy2(self.live, self.folder.path / "host.log.1")
            if look:
                self.catch_up()
            os.truncate(self.live, 0)

    def _shift(self) -> None:
        """Older siblings move on; the third is packed, the fifth deleted once it has been read."""
        name = self.folder.path / "host.log"
        last = name.with_name("host.log.5.gz")
        if last.exists():
            self.catch_up()
            last.unlink()
        for number in (4, 3):
            old = name.with_name(f"host.log.{number}.gz")
            if old.exists():
                old.rename(name.with_name(f"host.log.{number + 1}.gz"))
        second = name.with_name("host.log.2")
        if second.exists():
            name.with_name("host.log.3.gz").write_bytes(gzip.compress(second.read_bytes()))
            second.unlink()
        if name.with_name("host.log.1").exists():
            name.with_name("host.log.1").rename(second)

    @rule()
    def catch_up(self) -> None:
        self.folder.catch_up()
        self.expected += self.waiting
        self.waiting = []

    @rule()
    def restart(self) -> None:
        self.folder.restart(self.block)

    @invariant()
    def nothing_is_lost_or_doubled(self) -> None:
        if hasattr(self, "folder"):
            assert self.folder.numbers() == self.expected

    def teardown(self) -> None:
        if hasattr(self, "folder"):
            try:
                self.catch_up()
                self.nothing_is_lost_or_doubled()
            finally:
                self.folder.close()
                self.place.cleanup()


TestRotator = Rotator.TestCase
TestRotator.settings = settings(max_examples=25, stateful_step_count=30, deadline=None)
