"""The store's file is made, or known to be airtally's own, before anything touches it: what lies at its path may be
anybody's.
"""

import os
import shutil
import sqlite3
import stat
import tempfile
from contextlib import closing
from pathlib import Path

from shared.errors import StoreError, StoreSettingError
from shared.text import escaped

MAGIC = b"SQLite format 3\0"  # the first 16 bytes: https://www.sqlite.org/fileformat.html, 1.3
OURS = {"alembic_version", "log", "file", "over"}  # tables that every store has had


def make_own(database: str) -> None:
    """Create the store's file readable by its owner only, or take rights on it away from others where it is airtally's
    own.

    Anything else is refused and left as it is, its rights, times and content. Raises StoreSettingError, StoreError.
    """
    path = Path(database)
    try:
        if _create(path):
            return
        descriptor = os.open(path, os.O_RDWR | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC) if _is_ours(path) else -1
    except OSError as error:
        raise StoreSettingError(
            f"store.url: {escaped(database)} can't be opened for writing ({error.strerror}); check the folder and "
            "whose it is."
        ) from error
    try:
        if stat.S_IMODE(os.fstat(descriptor).st_mode) & 0o077:
            os.fchmod(descriptor, 0o600)
    finally:
        os.close(descriptor)


def _create(path: Path) -> bool:
    """Whether there was nothing, and now there is an empty file."""
    try:
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600))
    except FileExistsError:
        return False
    return True


def _is_ours(path: Path) -> bool:
    """True; raises where it is something else. Nothing is written, and no lock taken."""
    refused = f"store.url: {escaped(str(path))}"
    if _own_size(path, refused) == 0:
        return True
    with path.open("rb", buffering=0) as file:
        if file.read(len(MAGIC)) != MAGIC:
            raise _no_store(path, "it is no SQLite file")
    try:
        tables = _tables(path) or _tables_of_a_copy(path)
    except sqlite3.Error as error:
        raise _no_store(path, str(error)) from error
    if tables and not tables >= OURS:
        raise StoreSettingError(f"{refused} is a database of another program; name another file.")
    return True


def _own_size(path: Path, refused: str) -> int:
    """The size of a plain file that belongs to this user; raises where it is something else."""
    status = os.lstat(path)
    if stat.S_ISLNK(status.st_mode):
        raise StoreSettingError(f"{refused} is a symbolic link; name the file itself.")
    if not stat.S_ISREG(status.st_mode):
        what = "a folder" if stat.S_ISDIR(status.st_mode) else "a device, pipe or socket"
        raise StoreSettingError(
            f"{refused} is {what}; a file was expected, which airtally makes itself where there is none."
        )
    if status.st_uid != os.geteuid():
        raise StoreSettingError(f"{refused} belongs to another user; run airtally as that user, or name another file.")
    return status.st_size


def is_store(path: Path) -> bool:
    """Whether a file is a store of airtally, or a copy of one. Raises OSError."""
    with path.open("rb", buffering=0) as file:
        if file.read(len(MAGIC)) != MAGIC:
            return False
    try:
        return _tables(path) >= OURS
    except sqlite3.Error:
        return False


def _no_store(path: Path, why: str) -> StoreError:
    return StoreError(
        f"{escaped(str(path))}: is not an airtally store, or is damaged ({why}); "
        "move it away and let `airtally ingest` read the logs again."
    )


def _tables(path: Path) -> set[str]:
    """The tables of what has come home from the write-ahead log, read without a lock and without a file beside it."""
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?immutable=1", uri=True)) as connection:
        return _names(connection)


def _tables_of_a_copy(path: Path) -> set[str]:
    """Where all of it still waits in the write-ahead log: SQLite may not even look at that without touching it."""
    waiting = path.with_name(path.name + "-wal")
    if not waiting.is_file():
        return set()
    with tempfile.TemporaryDirectory(prefix="airtally-") as scratch:
        copy = Path(scratch, "copy.db")
        shutil.copyfile(path, copy)
        shutil.copyfile(waiting, copy.with_name("copy.db-wal"))
        with closing(sqlite3.connect(copy)) as connection:
            return _names(connection)


def _names(connection: sqlite3.Connection) -> set[str]:
    return {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
