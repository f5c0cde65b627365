"""A whole copy of the store while it is in use, and back again; SQLite only, through its own online backup
(https://www.sqlite.org/backup.html): another program may read and write meanwhile.
"""

import os
import secrets
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from server.store.engine import REVISION, Store, open_store, place, sqlite_file
from server.store.own_file import is_store
from server.store.serving import claim_serving
from shared.errors import StoreError, UnusableError

PAGES = 4_000  # copied at a time; between them writers go on
Progress = Callable[[int, int], None]  #: pages that are left, pages in all


@dataclass(frozen=True)
class Held:
    """What a store holds, as far as tells two of them apart."""

    overs: int
    lines: int
    last_us: int | None  #: the newest stamp of a line's hour, or an over's end
    revision: str


def back_up(store: Store, to: Path, progress: Progress | None = None) -> Held:
    """Write a whole copy to a file of its owner's, whole or not at all, and open it to see that it is sound.
    Raises StoreError, UnusableError, OSError.
    """
    source = _file(store)
    scratch = to.with_name(f".{to.name}.{secrets.token_hex(6)}")
    os.close(os.open(scratch, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
    try:
        with closing(sqlite3.connect(source)) as of, closing(sqlite3.connect(scratch)) as into:
            of.backup(into, pages=PAGES, progress=_reporting(progress))
            into.execute("PRAGMA journal_mode = DELETE")  # one file is the whole copy
        held = look_into(scratch)
        _settle(scratch)
        os.replace(scratch, to)
    except sqlite3.Error as error:
        raise StoreError(f"{to}: the copy could not be made ({error}); nothing was changed.") from error
    finally:
        scratch.unlink(missing_ok=True)
    return held


def put_back(url: str, copy: Path, progress: Progress | None = None) -> None:
    """Make the store what the copy is. Raises StoreError, UnusableError where `serve` runs on it."""
    store = open_store(url)
    file = _file(store)
    claim = claim_serving(store)
    try:
        store.dispose()
        with closing(sqlite3.connect(f"file:{copy}?mode=ro", uri=True)) as of, closing(sqlite3.connect(file)) as into:
            of.backup(into, progress=_reporting(progress))
            into.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    except sqlite3.Error as error:
        raise StoreError(f"{file}: could not be put back ({error}); see `airtally check`.") from error
    finally:
        claim.close()
    open_store(url).dispose()  # an older copy gets this version's tables


def look_into(copy: Path) -> Held:
    """What a copy holds; raises UnusableError where it is none of ours, damaged, or a newer version's."""
    if not copy.is_file() or not is_store(copy):
        raise UnusableError(f"{copy}: is no copy of a store of airtally.")
    try:
        with closing(sqlite3.connect(f"file:{copy}?mode=ro", uri=True)) as connection:
            sound = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
            if sound != "ok":
                raise UnusableError(f"{copy}: the copy is damaged ({sound}).")
            held = _held(connection)
    except sqlite3.Error as error:
        raise UnusableError(f"{copy}: the copy can't be read ({error}).") from error
    if held.revision > REVISION:
        raise UnusableError(f"{copy}: was made by a newer airtally; install that version.")
    return held


def held_by(store: Store) -> Held:
    """The same of the store itself. Raises UnusableError where it is no file."""
    with closing(sqlite3.connect(_file(store))) as connection:
        return _held(connection)


def _held(connection: sqlite3.Connection) -> Held:
    overs, last_end = connection.execute('SELECT count(*), max("end") FROM over').fetchone()
    last_hour = connection.execute("SELECT max(hour) FROM line_hour").fetchone()[0]
    lines = connection.execute("SELECT coalesce(sum(lines), 0) FROM log").fetchone()[0]
    known = [instant for instant in (last_end, last_hour) if instant is not None]
    revision = connection.execute("SELECT version_num FROM alembic_version").fetchone()[0]
    return Held(overs, lines, max(known, default=None), revision)


def _file(store: Store) -> Path:
    file = sqlite_file(store)
    if file is None:
        raise UnusableError(
            f"{place(store)}: is a server's database; copy it with the server's own tools, such as pg_dump."
        )
    return file


def _reporting(progress: Progress | None) -> Callable[[int, int, int], None] | None:
    return None if progress is None else lambda _status, left, total: progress(left, total)


def _settle(path: Path) -> None:
    """On the disk, not only in its cache."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
