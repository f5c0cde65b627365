"""Scratch folders: readable by their owner only, held by a lock that the system frees however their holder ends, so
that what a killed process left behind is known as such.
"""

import fcntl
import os
import shutil
import stat
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

MARK = "in-use"


class Scratch:
    """A folder of its own, gone when it is closed."""

    def __init__(self, prefix: str, place: Path) -> None:
        """Raises OSError."""
        self.path = Path(tempfile.mkdtemp(prefix=prefix, dir=place))
        self._mark = (self.path / MARK).open("w")
        fcntl.flock(self._mark, fcntl.LOCK_EX)

    def close(self) -> None:
        shutil.rmtree(self.path, ignore_errors=True)
        self._mark.close()


def in_use(prefix: str, place: Path) -> list[Path]:
    """The scratch folders there that somebody holds."""
    return [path for path in _ours(prefix, place) if not _take(path, away=False)]


def sweep(prefix: str, place: Path, *, unmarked_before_s: float | None = None) -> int:
    """Take away those that nobody holds any more; how many there were. Those of a version that did not mark them
    go where they were touched last before an instant, seconds since 1970.
    """
    left = list(_ours(prefix, place))
    if unmarked_before_s is None:
        return sum(_take(path, away=True) for path in left)
    old = [path for path in left if path.stat().st_mtime < unmarked_before_s]
    for path in old:
        shutil.rmtree(path, ignore_errors=True)
    return len(old)


def _ours(prefix: str, place: Path) -> Iterator[Path]:
    """Folders of that name that this user made: in a folder that others write in, anything may have the name."""
    for path in place.glob(f"{prefix}*"):
        with suppress(OSError):
            status = path.lstat()
            if stat.S_ISDIR(status.st_mode) and status.st_uid == os.geteuid():
                yield path


def _take(path: Path, *, away: bool) -> bool:
    """Whether nobody held it; with `away` it is gone then. A folder without its mark is one that is just being made."""
    try:
        with (path / MARK).open("r+") as mark:
            fcntl.flock(mark, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if away:
                shutil.rmtree(path, ignore_errors=True)
            return True
    except OSError:
        return False
