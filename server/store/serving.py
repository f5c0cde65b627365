"""Which airtally serves a store: one at a time. The claim is a lock that the system frees however its holder ends."""

import errno
import fcntl
import json
import os
import stat
import struct
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

import sqlalchemy as sa

from server.store.engine import explained, place, reading, sqlite_file, writing
from server.store.facts import read_fact, set_fact
from shared.errors import StoreSettingError

FACT = "serving"
LOCKED_BYTE = 1 << 61  # of the store's file: SQLite locks bytes from 1 << 30 on, and no file is this long
KEY = 0x61697274616C6C79  # of the advisory lock on a PostgreSQL server


@dataclass(frozen=True)
class Serving:
    """Who serves a store."""

    process: int
    since: str  #: local date and time
    address: str  #: of its pages


class Claim:
    """Held for as long as the store is served."""

    def __init__(
        self,
        engine: sa.Engine,
        descriptor: int | None = None,
        connection: sa.Connection | None = None,
        store: int | None = None,
    ) -> None:
        self._engine, self._descriptor, self._connection, self._store = engine, descriptor, connection, store

    def say(self, serving: Serving) -> None:
        """Say who holds it, for whoever is refused. Raises StoreError."""
        text = json.dumps(asdict(serving))
        if self._descriptor is not None:
            os.ftruncate(self._descriptor, 0)
            os.pwrite(self._descriptor, text.encode(), 0)
        elif self._connection is not None:
            with writing(self._engine) as connection:
                set_fact(connection, FACT, text)

    def close(self) -> None:
        """Let another one serve. The store is closed by then: to close any descriptor of a file takes SQLite's own
        locks off it (https://www.sqlite.org/howtocorrupt.html, 2.2).
        """
        if self._store is not None:
            os.close(self._store)
        if self._descriptor is not None:
            os.close(self._descriptor)
        if self._connection is not None:
            with suppress(sa.exc.DBAPIError):  # the server is gone, and the lock with it
                self._connection.execute(sa.select(sa.func.pg_advisory_unlock(KEY)))
            self._connection.close()
        self._descriptor = self._connection = self._store = None


def claim_serving(engine: sa.Engine) -> Claim:
    """Claim the store. Raises StoreSettingError, which names whoever serves it already; StoreError."""
    file = sqlite_file(engine)
    if file is not None:
        beside = file.with_name(file.name + ".serving")
        store = _locked_itself(file, beside)
        try:
            return Claim(engine, descriptor=_locked(file, beside), store=store)
        except BaseException:
            if store is not None:
                os.close(store)
            raise
    if engine.dialect.name == "postgresql":
        return Claim(engine, connection=_locked_on_server(engine))
    return Claim(engine)


def _locked_itself(store: Path, beside: Path) -> int | None:
    """A descriptor of the store with a lock on a byte far behind all that SQLite locks or holds, so that another name
    of the same file, or a file beside it that was deleted, lets nobody in. None where the system has no locks of
    descriptors (fcntl(2), open file description locks): a process's own locks would go with SQLite's.
    """
    command = getattr(fcntl, "F_OFD_SETLK", None)
    if command is None:
        return None
    descriptor = os.open(store, os.O_RDWR | os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK)
    try:
        fcntl.fcntl(descriptor, command, struct.pack("hhqqi4x", fcntl.F_WRLCK, os.SEEK_SET, LOCKED_BYTE, 1, 0))
    except OSError as error:
        os.close(descriptor)
        if error.errno not in (errno.EAGAIN, errno.EACCES):  # a file system without them: the file beside it is left
            return None
        try:
            holder = beside.read_text(encoding="utf-8", errors="replace")
        except OSError:
            holder = ""
        raise _refusal(str(store), holder) from error
    return descriptor


def _locked(store: Path, beside: Path) -> int:
    """The descriptor of a file beside the store, locked; empty until `say`."""
    try:
        descriptor = os.open(beside, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK, 0o600)
    except OSError as error:
        raise StoreSettingError(
            f"{beside}: can't be opened ({error.strerror}); it says who serves the store. Move it away."
        ) from error
    try:
        status = os.fstat(descriptor)
        if not stat.S_ISREG(status.st_mode) or status.st_uid != os.geteuid() or status.st_nlink > 1:
            raise StoreSettingError(
                f"{beside}: is not airtally's own file; it would say who serves the store. Move it away."
            )
        try:
            # Not inherited by processes that are forked, as flock would be.
            fcntl.lockf(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise _refusal(str(store), os.pread(descriptor, 4096, 0).decode("utf-8", "replace")) from error
        os.ftruncate(descriptor, 0)
    except BaseException:
        os.close(descriptor)
        raise
    return descriptor


def _locked_on_server(engine: sa.Engine) -> sa.Connection:
    """A connection that holds the lock of its database for as long as it is open."""
    with explained(engine):
        connection = engine.connect().execution_options(isolation_level="AUTOCOMMIT")
        if connection.execute(sa.select(sa.func.pg_try_advisory_lock(KEY))).scalar():
            return connection
        connection.close()
    with reading(engine) as other:
        text = read_fact(other, FACT) or ""
    raise _refusal(place(engine), text)


def _refusal(store: str, text: str) -> StoreSettingError:
    try:
        first = Serving(**json.loads(text))
        who = f"process {first.process}, since {first.since}, pages at {first.address}"
    except (ValueError, TypeError):
        who = "it has just been started, or serves it by another name of the file"
    return StoreSettingError(
        f"{store}: another `airtally serve` serves this store already ({who}); stop that one, or name another store."
    )
