"""Faults of files, folders, the disk and airtally's own defects, while logs are read."""

import errno
import gzip
import io
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

from server.intake import file_readings, fingerprints
from server.intake.file_readings import FileReadings
from server.intake.ingest import Intake
from server.store.engine import open_store
from shared.errors import StoreError
from tests.intake.faults import Attempt, fault

REAL_OPEN = file_readings.open_log


@contextmanager
def _open_as(instead: Any) -> Iterator[None]:
    """Files are opened so, for reading as well as for knowing them again."""
    with mock.patch.object(file_readings, "open_log", instead), mock.patch.object(fingerprints, "open_log", instead):
        yield


def _both(attempt: Attempt, most: int = 40) -> None:
    """New lines in two logs."""
    attempt.write("a.log", attempt.rng.randint(1, most))
    attempt.write("more/b.log", attempt.rng.randint(1, most))


def _meanwhile(attempt: Attempt, passes: int = 3) -> None:
    """The fault is there: b goes on, whatever happens to a."""
    for _ in range(passes):
        attempt.write("more/b.log", attempt.rng.randint(1, 5))
        last = len(attempt.expected) - 1
        attempt.look(attempt.rng.uniform(0, 2))
        attempt.check(last in set(attempt.folder.numbers()), "the other log was held up")


@fault("a file name that is no UTF-8, or holds control characters")
def odd_name(attempt: Attempt) -> None:
    name = (
        bytes(attempt.rng.choice([0xFF, 0x1B, 0x0A, 0x9B, 0xC3, 0x20]) for _ in range(attempt.rng.randint(1, 6)))
        + b".log"
    )
    for _ in range(attempt.rng.randint(1, 4)):
        attempt.write(name, attempt.rng.randint(1, 40))
        attempt.write("a.log", 3)
        attempt.look()
        attempt.check(
            not any(letter in "".join(attempt.troubles) for letter in "\x1b\x9b\n"), "a control character was told raw"
        )
        if attempt.rng.random() < 0.5:
            attempt.restart()


@fault("a folder that can't be searched for a while, from the start or later")
def closed_folder(attempt: Attempt) -> None:
    attempt.write("a.log", 5)
    if attempt.rng.random() < 0.5:
        attempt.look()
    attempt.write("a.log", 5)
    real = os.scandir

    def closed(path: Any) -> Any:
        if Path(path) == attempt.path:
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)

    with mock.patch.object(os, "scandir", closed):
        _meanwhile(attempt)
        attempt.check(any("can't be looked into" in said for said in attempt.troubles), "nothing was told")


@fault("a file that becomes a folder, and a file again")
def became_folder(attempt: Attempt) -> None:
    attempt.write("a.log", attempt.rng.randint(1, 40))
    attempt.look()
    (attempt.path / "a.log").unlink()
    (attempt.path / "a.log").mkdir()
    _meanwhile(attempt)
    (attempt.path / "a.log").rmdir()
    _both(attempt)


@fault("a file that can't be opened, or fails while it is read, for a while")
def failing_read(attempt: Attempt) -> None:
    _both(attempt)
    if attempt.rng.random() < 0.5:
        attempt.look()
    attempt.write("a.log", 60)
    number = attempt.rng.choice([errno.EIO, errno.EACCES, errno.ESTALE, errno.ENXIO, errno.EISDIR])
    good = attempt.rng.randint(0, 4)

    class Failing(io.FileIO):
        reads = 0

        def read(self, size: int | None = -1, /) -> bytes:
            Failing.reads += 1
            if Failing.reads > good:
                raise OSError(number, os.strerror(number))
            return super().read(size)  # type: ignore[arg-type]

    with _open_as(lambda path: Failing(path) if path.name == "a.log" else REAL_OPEN(path)):
        _meanwhile(attempt)
        attempt.check(any("a.log" in said for said in attempt.troubles), "nothing was told")


@fault("a defect of airtally's own, or a library's panic, while one log is parsed")
def own_defect(attempt: Attempt) -> None:
    class Panic(BaseException):
        pass

    _both(attempt)
    error = attempt.rng.choice(
        [ZeroDivisionError("x"), RecursionError("x"), MemoryError(), KeyError("x"), Panic("x"), AssertionError()]
    )
    good, real = attempt.rng.randint(0, 3), FileReadings._batches
    batches = 0

    def failing(self: FileReadings, stream: Any, beginning: Any, claim: Any, *rest: Any) -> Any:
        nonlocal batches
        for batch in real(self, stream, beginning, claim, *rest):
            batches += claim.file.path.name == "a.log"
            if claim.file.path.name == "a.log" and batches > good:
                raise error
            yield batch

    with mock.patch.object(FileReadings, "_batches", failing):
        _meanwhile(attempt)


@fault("a file that vanishes between the look and the reading, and comes back")
def vanishing(attempt: Attempt) -> None:
    _both(attempt)
    for _ in range(attempt.rng.randint(1, 3)):
        attempt.write("a.log", 5)
        gone = attempt.path / "a.log.kept-away"

        def away(path: Path, gone: Path = gone) -> Any:
            if path.name == "a.log" and not gone.exists():
                path.rename(gone)
            return REAL_OPEN(path)

        with _open_as(away):
            attempt.look()
        if gone.exists():
            gone.rename(attempt.path / "a.log")


@fault("a packed file that breaks off, and is whole later")
def broken_pack(attempt: Attempt) -> None:
    data = gzip.compress(attempt.lines(300))
    place = attempt.path / "a.log.1.gz"
    place.write_bytes(data[: attempt.rng.randint(0, len(data) - 1)])
    _meanwhile(attempt)
    place.write_bytes(data)


@fault("a backlog of packed files, rotated and read elsewhere while it is half read")
def backlog(attempt: Attempt) -> None:
    count = attempt.rng.randint(1, 3)
    for number in range(count, 0, -1):
        (attempt.path / f"a.log.{number}.gz").write_bytes(gzip.compress(attempt.lines(attempt.rng.randint(50, 300))))
    attempt.write("a.log", 5)
    for _ in range(attempt.rng.randint(1, 6)):
        attempt.write("more/b.log", 2)
        last = len(attempt.expected) - 1
        attempt.look(step_s=0.1)
        attempt.check(last in set(attempt.folder.numbers()), "live lines waited for the backlog")
        chance = attempt.rng.random()
        if chance < 0.2:
            for number in range(9, 0, -1):
                if (one := attempt.path / f"a.log.{number}.gz").exists():
                    one.rename(attempt.path / f"a.log.{number + 1}.gz")
        elif chance < 0.4:
            Intake(attempt.folder.engine, attempt.folder.station, block_bytes=2048).catch_up()
        elif chance < 0.5:
            attempt.restart()


@fault("a store that is locked for a while")
def locked_store(attempt: Attempt) -> None:
    impatient = open_store(attempt.folder.station.store_url(), busy_ms=5)
    attempt.intake = Intake(impatient, attempt.folder.station, block_bytes=2048, steady=attempt.clock)
    holder = sqlite3.connect(attempt.path / "airtally.db", isolation_level=None)
    for _ in range(3):
        _both(attempt)
        holder.execute("BEGIN IMMEDIATE")
        try:
            attempt.look()
            attempt.check(False, "a locked store was not told")
        except StoreError as error:
            attempt.check(
                "another program holds the store locked" in str(error), f"a locked store was told so: {error}"
            )
        holder.execute("ROLLBACK")
        if attempt.rng.random() < 0.5:
            attempt.look()
    holder.close()
    attempt.restart()
    impatient.dispose()


@fault("two airtallies on one store at once")
def two_at_once(attempt: Attempt) -> None:
    other = Intake(attempt.folder.engine, attempt.folder.station, block_bytes=2048)
    real = FileReadings._batches

    def interrupted(self: FileReadings, *rest: Any) -> Any:
        for batch in real(self, *rest):
            if self is attempt.intake._files and attempt.rng.random() < 0.3:
                other.catch_up()
            yield batch

    with mock.patch.object(FileReadings, "_batches", interrupted):
        for _ in range(4):
            _both(attempt, 80)
            attempt.look()
