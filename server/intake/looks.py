"""Looks into files, remembered for as long as the files do not change."""

from functools import lru_cache
from pathlib import Path

from server.intake.check_points import CheckPoint
from server.intake.discovery import LogFile
from server.intake.fingerprints import HEAD_BYTES, begins_with, first_bytes, matches, reaches
from server.intake.rungs import FIRST_BYTES, Ladder, differ

START_BYTES = 128  #: of a file, by which its short copies are looked for


@lru_cache(maxsize=256)
def head_of(path: Path, _stamp: tuple[int, int, int, int]) -> bytes:
    """A file's first 4 KiB. Remembered for as long as the file does not change."""
    return first_bytes(path, HEAD_BYTES)


@lru_cache(maxsize=1024)
def rungs_of(path: Path, _stamp: tuple[int, int, int, int]) -> bytes:
    """A file's own rungs."""
    return Ladder().grow(first_bytes(path, FIRST_BYTES)).digests


@lru_cache(maxsize=1024)
def file_reaches(path: Path, _stamp: tuple[int, int, int, int], offset: int) -> bool:
    return reaches(path, offset)


@lru_cache(maxsize=1024)
def file_begins_with(path: Path, _place: tuple[int, int], other: Path, _stamp: tuple[int, int, int, int]) -> bool:
    """What a file was found to begin with it still begins with, for as long as it holds what was read of it."""
    return begins_with(path, other)


@lru_cache(maxsize=4096)
def start_of(path: Path, _stamp: tuple[int, int, int, int]) -> bytes:
    return first_bytes(path, START_BYTES)


def still_holds(file: LogFile, row: CheckPoint) -> bool:
    """Whether the file begins with what was read as `row`."""
    return row.fingerprint.has_head(head_of(file.path, file.stamp)) and matches(file.path, row.fingerprint)


def surely_other(row: CheckPoint, content: bytes) -> bool:
    """Whether a file that begins with `content`, and has no more, can't be the beginning of what was read as `row`."""
    if row.fingerprint.head_bytes <= len(content) and not row.fingerprint.has_head(content):
        return True
    return differ(row.fingerprint.rungs, Ladder().grow(content).digests)
