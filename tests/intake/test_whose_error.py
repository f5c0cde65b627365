"""An error in reading a file is its own log's; every other log goes on in the same pass."""

import errno
import io
import os
import shutil
from pathlib import Path

import pytest

from server.intake import file_readings, fingerprints, moves, unpacking
from server.intake.discovery import LogFile
from tests.intake.conftest import Folder, MakeFolder, over_line

REAL = unpacking.open_log


def unreadable(monkeypatch: pytest.MonkeyPatch, *names: str) -> None:
    """Files of these names can be opened, and not read."""

    class Failing(io.FileIO):
        def read(self, size: int | None = -1, /) -> bytes:
            raise OSError(errno.EISDIR, os.strerror(errno.EISDIR))

    def instead(path: Path) -> unpacking.Stream:
        return Failing(path) if path.name in names else REAL(path)

    for module in (fingerprints, file_readings):
        monkeypatch.setattr(module, "open_log", instead)


def forget_what_was_read() -> None:
    """A new process has read nothing yet."""
    from server.intake import looks

    for cached in (looks.head_of, looks.rungs_of, looks.start_of, looks.file_begins_with, looks.file_reaches):
        cached.cache_clear()


def read_a_and_b(folder: MakeFolder) -> Folder:
    one = folder("*.log")
    one.write("a.log", b"".join(over_line(number) for number in range(10)))
    one.catch_up()
    one.write("b.log", b"".join(over_line(number) for number in range(100, 105)))
    forget_what_was_read()
    return one


def test_a_log_that_is_new_is_read_in_the_pass_in_which_another_cannot_be(
    folder: MakeFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = read_a_and_b(folder)
    with monkeypatch.context() as during:
        unreadable(during, "a.log")
        one.write("a.log", over_line(10))
        caught = one.catch_up()
        assert one.numbers()[-5:] == [100, 101, 102, 103, 104]
        assert caught.troubles and all("a.log" in said and "b.log" not in said for said in caught.troubles)
    forget_what_was_read()
    assert one.catch_up().troubles == []
    assert one.numbers() == [*range(11), *range(100, 105)]


def test_a_copy_of_a_log_that_cannot_be_read_waits_and_is_not_stored_twice(
    folder: MakeFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = read_a_and_b(folder)
    shutil.copy(one.path / "a.log", one.path / "c.log")
    (one.path / "d.log").write_bytes((one.path / "a.log").read_bytes()[:100])
    with monkeypatch.context() as during:
        unreadable(during, "a.log")
        one.write("a.log", over_line(10))
        one.catch_up()
        assert one.numbers() == [*range(10), *range(100, 105)]
    forget_what_was_read()
    one.catch_up()
    assert one.numbers() == [*range(11), *range(100, 105)]


def test_whether_a_log_has_moved_is_asked_log_by_log(folder: MakeFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    one = folder("*.log", "more/*.log")
    one.write("a.log", b"".join(over_line(number) for number in range(10)))
    one.catch_up()
    (one.path / "more").mkdir()
    (one.path / "a.log").rename(one.path / "more" / "z.log")
    one.write("b.log", over_line(100))
    real = moves.still_holds

    def failing(file: LogFile, row: object) -> bool:
        if file.path.name == "b.log":
            raise OSError(errno.EIO, "Input/output error")
        return real(file, row)  # type: ignore[arg-type]

    with monkeypatch.context() as during:
        during.setattr(moves, "still_holds", failing)
        one.write("more/z.log", over_line(11))
        caught = one.catch_up()
        assert one.numbers() == [*range(10), 11]
        assert [said for said in caught.troubles if "has moved" in said and "b.log" in said] == caught.troubles
        assert any("z.log" in note for note in caught.notes)
    assert one.catch_up().troubles == []
    assert one.numbers() == [*range(10), 11, 100]
