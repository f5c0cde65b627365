"""Open the store: SQLite in WAL, private to its owner, or PostgreSQL by URL; migrated to this version's schema."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from weakref import WeakKeyDictionary

import sqlalchemy as sa

from server.store.own_file import make_own
from shared.errors import StoreError, StoreSettingError
from shared.redaction import place_of, redacted, secrets_of

Store = sa.Engine  #: what `open_store` gives; other rooms hand it on, and ask it by the functions of this room
Connection = sa.Connection  #: to a store, within a transaction; likewise
_opened: WeakKeyDictionary[sa.Engine, tuple[int, int] | None] = WeakKeyDictionary()  # where their files lay

BUSY_MS = 15_000  # how long a writer waits for another one
CLOSE_MS = 1_000  # how long the end of a command waits for others that use the store
WITH_SECRETS = "0006"  # up to this revision kept results held settings, passwords in them
# of the newest migration: a store that stands there opens without Alembic, whose import costs more than most commands
REVISION = "0010"


def open_store(url: str, *, busy_ms: int = BUSY_MS) -> sa.Engine:
    """The engine of a store that exists, has this version's tables and, on SQLite, is readable by its owner only.
    Raises StoreError.
    """
    try:
        parsed = sa.make_url(url)
        engine = sa.create_engine(parsed, pool_pre_ping=parsed.get_backend_name() != "sqlite")
    except Exception as error:  # whatever a driver makes of its options
        shown = url if url.startswith("sqlite:") else place_of(url)
        why = redacted(str(error), secrets_of(url, shown))
        raise StoreSettingError(
            f"store.url: {shown} can't be used ({why}); an SQLAlchemy URL such as sqlite:///airtally.db was expected."
        ) from None
    if engine.dialect.name == "sqlite":
        if parsed.database and parsed.database != ":memory:":
            make_own(parsed.database)
        _tune_sqlite(engine, busy_ms)
    with explained(engine):
        _migrate(engine)
    _opened[engine] = _lies(engine)
    return engine


def close_store(engine: sa.Engine) -> bool:
    """Let go of the store; whether its one file then holds all of it. It does not while another program uses the store,
    nor where the disk is full: then the rest lies in the write-ahead log beside it, as after a crash.
    """
    engine.dispose()
    file, lay = sqlite_file(engine), _opened.pop(engine, None)
    if lay is not None and _lies(engine) != lay:
        return False  # what lies there now is not ours to touch
    if file is None or not file.with_name(f"{file.name}-wal").exists():  # whoever lets go last takes it home
        return True
    with suppress(sqlite3.Error, OSError):
        connection = sqlite3.connect(f"{file.resolve().as_uri()}?mode=rw", uri=True, timeout=CLOSE_MS / 1000)
        with closing(connection):
            return not connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
    return False


def close_stores() -> None:
    """Let go of every store that this process has open: at its end."""
    for engine in list(_opened):
        close_store(engine)


def sqlite_file(engine: sa.Engine) -> Path | None:
    """The store's file, where it is one."""
    database = engine.url.database
    return Path(database) if engine.dialect.name == "sqlite" and database and database != ":memory:" else None


@contextmanager
def reading(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A connection that sees one state of the store. Raises StoreError."""
    _stay_put(engine)
    with explained(engine), engine.connect() as connection, connection.begin():
        yield connection


@contextmanager
def writing(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A connection in a write transaction from its first statement (no upgrade of a read lock midway). Raises
    StoreError.
    """
    _stay_put(engine)
    with explained(engine), engine.connect().execution_options(airtally_write=True) as connection, connection.begin():
        yield connection


def _lies(engine: sa.Engine) -> tuple[int, int] | None:
    """Which file lies at the store's path now."""
    file = sqlite_file(engine)
    try:
        status = os.stat(file) if file is not None else None
    except OSError:
        return None
    return None if status is None else (status.st_dev, status.st_ino)


def _stay_put(engine: sa.Engine) -> None:
    """Raises StoreError where the open file lies at its path no more: SQLite would go on with it, and all of it be lost
    at the end.
    """
    lay = _opened.get(engine)
    if lay is not None and (now := _lies(engine)) != lay:
        what = "is there no more" if now is None else "was replaced by another file"
        raise StoreError(
            f"{place(engine)}: {what} while it was in use; nothing is stored any more. End airtally, put the right "
            "file there, and start it again."
        )


@contextmanager
def explained(engine: sa.Engine) -> Iterator[None]:
    """Turns the driver's errors into a sentence that says what to do."""
    try:
        yield
    except (sa.exc.DBAPIError, sa.exc.TimeoutError) as error:
        message = str(getattr(error, "orig", None) or error)
        if sqlite_file(engine) is None:
            message = redacted(message, secrets_of(engine.url.render_as_string(hide_password=False), place(engine)))
        raise StoreError(_sentence(engine, message)) from error


def soundness(engine: sa.Engine) -> str:
    """`ok`, or what SQLite finds wrong in its file."""
    with engine.connect() as connection:
        return str(connection.execute(sa.text("PRAGMA quick_check(1)")).scalar())


def place(engine: sa.Engine) -> str:
    """The store as a person would name it: its file, or its URL without password and options."""
    if "@" in (engine.url.host or ""):  # of a password that had to be spelt %40
        return place_of(engine.url.render_as_string(hide_password=False))
    return str(sqlite_file(engine) or engine.url.set(query={}).render_as_string(hide_password=True))


def _sentence(engine: sa.Engine, message: str) -> str:
    where = place(engine)
    if "locked" in message or "busy" in message:
        return f"{where}: another program holds the store locked; nothing was lost, try again when it has finished."
    if "full" in message or "disk I/O" in message:
        return (
            f"{where}: the disk is full or failing ({message}); nothing half-written was kept, make room and try again."
        )
    if "not a database" in message or "malformed" in message:
        return (
            f"{where}: is not an airtally store, or is damaged ({message}); move it away and let `airtally ingest` "
            "read the logs again."
        )
    if "readonly" in message or "unable to open" in message:
        return f"{where}: can't be opened for writing ({message}); check the folder and whose it is."
    return f"{where}: {message}"


def _tune_sqlite(engine: sa.Engine, busy_ms: int) -> None:
    @sa.event.listens_for(engine, "connect")
    def _connected(connection: object, _record: object) -> None:
        connection.isolation_level = None  # type: ignore[attr-defined]  # transactions begin below, not when the driver thinks so
        cursor = connection.cursor()  # type: ignore[attr-defined]
        cursor.execute(f"PRAGMA busy_timeout = {busy_ms}")
        cursor.execute("PRAGMA journal_mode = WAL")
        # In WAL a power cut may lose the last commits whole, never half; they are read again.
        cursor.execute("PRAGMA synchronous = NORMAL")
        cursor.execute("PRAGMA cache_size = -32000")
        cursor.execute("PRAGMA wal_autocheckpoint = 4000")  # 16 MB: a page that many batches touch is written home once
        cursor.close()

    @sa.event.listens_for(engine, "begin")
    def _begun(connection: sa.Connection) -> None:
        write = connection.get_execution_options().get("airtally_write")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")


def _migrate(engine: sa.Engine) -> None:
    with engine.connect() as connection:
        version = sa.table("alembic_version", sa.column("version_num"))
        stands = (
            connection.execute(sa.select(version.c.version_num)).scalar()
            if sa.inspect(connection).has_table("alembic_version")
            else None
        )
    if stands == REVISION:
        return
    from alembic import command
    from alembic.config import Config
    from alembic.util.exc import CommandError

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    try:
        with engine.connect().execution_options(airtally_write=True) as connection, connection.begin():
            config.attributes["connection"] = connection
            if engine.dialect.name == "sqlite":
                connection.exec_driver_sql("PRAGMA secure_delete = ON")
            command.upgrade(config, "head")
    except CommandError as error:
        raise StoreError(
            f"{place(engine)}: was made by a newer airtally ({error}); install that version or restore an older copy."
        ) from error
    if stands is not None and stands <= WITH_SECRETS:
        _rewrite(engine)


def _rewrite(engine: sa.Engine) -> None:
    """Leave nothing on free pages: what older versions stored and overwrote may be a password."""
    if engine.dialect.name != "sqlite":
        return
    with engine.connect() as connection:
        raw = connection.connection.dbapi_connection
        assert raw is not None
        raw.execute("VACUUM")
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
