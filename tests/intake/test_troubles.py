"""Whatever happens to one log in a pass is told in words, shown by log, tried again with back-off; the other logs go
on.
"""

import errno
import gzip
import io
import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from server.cli import cli
from server.intake import claims, file_readings
from server.intake.check_points import CheckPoint
from server.intake.context import FilesMoved
from server.intake.discovery import LogFile
from server.intake.file_readings import FileReadings
from server.intake.ingest import Intake
from server.intake.troubles import RETRY_S, Retries, Trouble
from server.intake.unpacking import Stream
from server.source import StoreSource
from tests.intake.conftest import Folder, MakeFolder, over_line


class Steady:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def with_clock(one: Folder) -> Steady:
    steady = Steady()
    one.intake = Intake(one.engine, one.station, steady=steady)
    return steady


def shown(one: Folder) -> dict[str, list[str]]:
    """What the Intake page shows of troubles, by the log's file name."""
    logs = StoreSource(one.engine, one.station).intake()
    return {Path(log.name).name: list(log.troubles) for log in logs if log.troubles}


def test_a_file_whose_name_is_no_utf8_is_read_as_any_other_and_once(folder: MakeFolder) -> None:
    one = folder("*.log")
    bad = os.fsencode(one.path) + b"/h\xffst.log"
    with open(bad, "wb") as file:
        file.write(over_line(1))
    one.write("other.log", over_line(2))
    assert one.catch_up().troubles == []
    with open(bad, "ab") as file:
        file.write(over_line(3))
    one.restart()
    assert (one.catch_up().lines, one.catch_up().lines) == (1, 0)
    assert one.numbers() == [1, 2, 3]
    names = [log.name for log in StoreSource(one.engine, one.station).intake()]
    assert [name.rpartition("/")[2] for name in names] == [r"h\xffst.log", "other.log"]


class Panic(BaseException):
    """What a library written in another language raises."""


@pytest.mark.parametrize(
    "error",
    [
        OSError(errno.EIO, "Input/output error"),
        PermissionError(13, "Permission denied"),
        IsADirectoryError(21, "Is a directory"),
        ValueError("\x1b[31mred"),
        RecursionError("deep"),
        MemoryError(),
        Panic("no"),
        UnicodeEncodeError("utf-8", "x", 0, 1, "surrogates"),
    ],
    ids=lambda error: type(error).__name__,
)
def test_one_log_that_fails_in_any_way_is_told_and_the_others_are_read_and_it_is_when_that_passes(
    folder: MakeFolder, monkeypatch: pytest.MonkeyPatch, error: BaseException
) -> None:
    one = folder("*.log")
    steady = with_clock(one)
    one.write("a.log", over_line(1))
    one.write("b.log", over_line(2))
    real = file_readings.open_log

    def fails(path: Path) -> Stream:
        if path.name == "a.log":
            raise error
        return real(path)

    monkeypatch.setattr(file_readings, "open_log", fails)
    (said,) = one.catch_up().troubles
    assert "/a.log" in said and "\x1b" not in said and one.numbers() == [2]
    assert shown(one) == {"a.log": [said]}
    monkeypatch.setattr(file_readings, "open_log", real)
    assert one.catch_up().troubles == [said] and one.numbers() == [2]  # not before its time
    steady.now += RETRY_S[0]
    assert one.catch_up().troubles == [] and one.numbers() == [
        1,
        2,
    ]  # though size and time of the file are what they were
    assert shown(one) == {}


def test_a_read_that_fails_in_the_midst_goes_on_where_it_was_when_it_works_again(
    folder: MakeFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = folder()
    steady = Steady()
    one.intake = Intake(one.engine, one.station, block_bytes=4096, steady=steady)
    one.write("host.log", b"".join(over_line(number) for number in range(500)))
    real, reads = file_readings.open_log, []

    class Failing(io.FileIO):
        def read(self, size: int | None = -1, /) -> bytes:
            reads.append(size)
            if len(reads) == 5:
                raise OSError(errno.EIO, "Input/output error")
            return super().read(size)  # type: ignore[arg-type]

    monkeypatch.setattr(
        file_readings, "open_log", lambda path: Failing(path) if path.name == "host.log" else real(path)
    )
    assert "Input/output error" in one.catch_up().troubles[0]
    assert 0 < len(one.numbers()) < 500
    steady.now += RETRY_S[0]
    assert one.catch_up().troubles == []
    assert one.numbers() == list(range(500))


def test_claims_that_fail_for_one_log_leave_the_others_alone(
    folder: MakeFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = folder("*.log")
    one.write("a.log", over_line(1))
    one.write("b.log", over_line(2))
    one.catch_up()
    one.write("a.log", over_line(3))
    one.write("b.log", over_line(4))
    real = claims.still_holds

    def fails(file: LogFile, row: CheckPoint) -> bool:
        if file.path.name == "a.log":
            raise ZeroDivisionError("nobody thought of it")
        return real(file, row)

    monkeypatch.setattr(claims, "still_holds", fails)
    (said,) = one.catch_up().troubles
    assert "a.log" in said and "ZeroDivisionError" in said and one.numbers() == [1, 2, 4]
    monkeypatch.setattr(claims, "still_holds", real)
    assert one.catch_up().troubles == [] and one.numbers() == [1, 2, 3, 4]


def test_a_folder_that_can_not_be_searched_is_told_and_the_others_are(
    folder: MakeFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = folder("one/*.log", "two/*.log", "th*/*.log")
    for name in ("one", "two", "three"):
        (one.path / name).mkdir()
    one.write("one/a.log", over_line(1))
    one.write("two/b.log", over_line(2))
    one.write("three/c.log", over_line(3))
    real: Callable = os.scandir

    def closed(path: object):  # type: ignore[no-untyped-def]  # what a plain user meets; tests may run as root, who is let in
        if str(path).endswith("one"):
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)

    monkeypatch.setattr(os, "scandir", closed)
    assert one.catch_up().troubles == [f"{one.path}/one: can't be looked into (Permission denied)."]
    assert one.numbers() == [2, 3]
    assert shown(one) == {"*.log": [f"{one.path}/one: can't be looked into (Permission denied)."]}
    monkeypatch.setattr(os, "scandir", real)
    assert one.catch_up().troubles == [] and one.numbers() == [1, 2, 3]
    assert shown(one) == {}


def test_a_log_that_became_a_folder_is_told_and_read_when_it_is_a_file_again(folder: MakeFolder) -> None:
    one = folder("host.log", "other.log")
    one.write("host.log", over_line(1))
    one.catch_up()
    (one.path / "host.log").unlink()
    (one.path / "host.log").mkdir()
    one.write("other.log", over_line(2))
    assert one.catch_up().troubles == [
        f"{one.path}/host.log: is a folder; a log file was expected, or a glob such as *.log."
    ]
    assert shown(one) == {"host.log": one.catch_up().troubles}
    (one.path / "host.log").rmdir()
    one.write("host.log", over_line(3))
    assert one.catch_up().troubles == [] and one.numbers() == [1, 2, 3]


def test_a_pass_that_gave_up_says_so_and_the_next_one_that_comes_through_ends_it(
    folder: MakeFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = folder()
    one.write("host.log", over_line(1))
    real = FileReadings._stay_put

    def always(self: FileReadings, file: LogFile, *, ended: bool) -> None:
        raise FilesMoved(file.log_name)

    monkeypatch.setattr(FileReadings, "_stay_put", always)
    (said,) = one.catch_up().troubles
    assert (
        "100 looks; this pass over the logs was given up, and the next one looks again." in said
        and f"{one.path}/host.log" in said
    )
    assert shown(one) == {"host.log": [said]}
    monkeypatch.setattr(FileReadings, "_stay_put", real)
    assert one.catch_up().troubles == [] and one.numbers() == [1] and shown(one) == {}


@pytest.mark.parametrize("suffix", [".gz", ".xz", ".zst", ".bz2"])
def test_a_packed_file_that_holds_over_200_times_its_size_is_told_and_not_read_further(
    folder: MakeFolder, suffix: str
) -> None:
    from tests.intake.test_rotation import PACKERS

    one = folder("*.log")
    one.intake = Intake(one.engine, one.station, block_bytes=1 << 18)
    packers = {**PACKERS}
    if suffix not in packers:
        pytest.skip("no packer of this kind in the tests")
    bomb = packers[suffix](b"".join(over_line(number) for number in range(50)) + b"\n" * (24 << 20))
    one.write("a.log.1" + suffix, bomb)
    one.write("b.log", over_line(99))
    (said,) = one.catch_up().troubles
    assert "holds over 200 times as much as it takes on the disk" in said and "not read further" in said
    assert one.numbers() == [*range(50), 99]
    begun = time.monotonic()
    assert one.catch_up().troubles == [said]
    assert time.monotonic() - begun < 1


def test_a_backlog_of_packed_files_is_read_in_steps_between_the_lines_of_other_logs(folder: MakeFolder) -> None:
    one = folder("old.log", "live.log")
    steady = Steady()
    one.intake = Intake(one.engine, one.station, block_bytes=4096, steady=steady)
    one.write("old.log.2.gz", gzip.compress(b"".join(over_line(number) for number in range(400))))
    one.write("old.log.1.gz", gzip.compress(b"".join(over_line(number) for number in range(400, 800))))
    one.write("old.log", over_line(800))
    passes = live = 0
    while True:
        one.write("live.log", over_line(10_000 + live))
        live += 1
        caught = one.intake.catch_up(lambda _count, _path: setattr(steady, "now", steady.now + 0.4), step_s=1.0)
        passes += 1
        stored = one.numbers()
        assert [number for number in stored if number >= 10_000] == list(range(10_000, 10_000 + live))
        old = [number for number in stored if number < 10_000]
        assert old == list(range(len(old)))  # in their order, the live file of that log last
        if not caught.more:
            break
    assert passes > 5 and len(old) == 801


def test_what_another_airtally_read_of_a_half_read_packed_file_is_not_read_again(folder: MakeFolder) -> None:
    one = folder("old.log", "live.log")
    steady = Steady()
    one.intake = Intake(one.engine, one.station, block_bytes=4096, steady=steady)
    one.write("old.log.1.gz", gzip.compress(b"".join(over_line(number) for number in range(400))))
    assert one.intake.catch_up(lambda _count, _path: setattr(steady, "now", steady.now + 2), step_s=1.0).more
    assert 0 < len(one.numbers()) < 400
    Intake(one.engine, one.station).catch_up()
    assert one.numbers() == list(range(400))
    assert not one.intake.catch_up(step_s=1.0).more
    assert one.numbers() == list(range(400))
    one.intake.close()


def test_a_half_read_packed_file_is_read_on_after_a_rotation_and_a_removal(folder: MakeFolder) -> None:
    one = folder()
    steady = Steady()
    one.intake = Intake(one.engine, one.station, block_bytes=4096, steady=steady)

    def step() -> bool:
        return one.intake.catch_up(lambda _count, _path: setattr(steady, "now", steady.now + 2), step_s=1.0).more

    one.write("host.log.1.gz", gzip.compress(b"".join(over_line(number) for number in range(400))))
    assert step()
    (one.path / "host.log.1.gz").rename(one.path / "host.log.2.gz")
    while step():
        pass
    assert one.numbers() == list(range(400))


def test_what_failed_is_tried_again_with_back_off_and_at_once_when_it_changes_but_not_for_ever() -> None:
    steady = Steady()
    retries = Retries(steady)
    for state, wait_s in enumerate(RETRY_S):
        retries.failed("x", Trouble("log", "said"), state)
        assert retries.is_due("x", "changed") == (state < 3) and not retries.is_due("x", state)
        steady.now += wait_s - 0.01
        assert not retries.is_due("x", state)
        steady.now += 0.01
        assert retries.is_due("x", state)
    retries.failed("y", Trouble("log", "too much"), 1, for_good=True)
    steady.now += 1e9
    assert not retries.is_due("y", 1) and retries.is_due("y", 2)
    retries.passed("x")
    retries.keep(str, [])
    assert retries.troubles == []


def test_a_pipe_or_a_device_in_place_of_a_log_is_told_and_not_read(folder: MakeFolder) -> None:
    one = folder("host.log", "zero.log")
    os.mkfifo(one.path / "host.log")
    (one.path / "zero.log").symlink_to("/dev/zero")
    told = one.catch_up().troubles
    assert len(told) == 2 and all("is a pipe, a device or a socket" in says for says in told)
    assert set(shown(one)) == {"host.log", "zero.log"}
    for command in ("check", "ingest"):
        said = CliRunner().invoke(cli, [command, "--station", str(one.station_file)]).output
        assert said.count("is a pipe, a device or a socket") == 2 and "there is none yet" not in said, said
    (one.path / "host.log").unlink()
    one.write("host.log", over_line(1))
    assert len(one.catch_up().troubles) == 1 and one.numbers() == [1]
