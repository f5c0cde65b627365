"""What lies at the store's path and is not airtally's own is refused in words and never touched."""

import os
import sqlite3
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from server.store import own_file
from server.store.engine import open_store
from shared.errors import StoreError, StoreSettingError

State = tuple[int, int, int, int, int, bytes]


def state(path: Path) -> State:
    """Kind and rights, owner, times and content; not the time of access, which every look may move."""
    found = os.lstat(path)
    content = path.read_bytes() if stat.S_ISREG(found.st_mode) else b""
    return found.st_mode, found.st_uid, found.st_mtime_ns, found.st_ctime_ns, found.st_ino, content


def text(place: Path) -> None:
    place.write_text("milk, eggs, a coil of feeder\n" * 100)


def short_text(place: Path) -> None:
    place.write_text("milk")


def other_program(
    place: Path, tables: str = "CREATE TABLE songs (id INTEGER); CREATE TABLE alembic_version (version_num TEXT)"
) -> None:
    connection = sqlite3.connect(place)
    connection.executescript(tables)
    connection.close()


def other_program_unfinished(place: Path) -> None:
    """Killed before its write-ahead log came home."""
    scratch = place.with_name("scratch.db")
    connection = sqlite3.connect(scratch)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("CREATE TABLE songs (id INTEGER)")
    connection.commit()
    place.write_bytes(scratch.read_bytes())
    place.with_name(place.name + "-wal").write_bytes(scratch.with_name("scratch.db-wal").read_bytes())
    connection.close()


def link(place: Path) -> None:
    target = place.with_name("target.db")
    open_store(f"sqlite:///{target}").dispose()
    target.chmod(0o644)
    place.symlink_to(target)


def dangling(place: Path) -> None:
    place.symlink_to(place.with_name("nowhere.db"))


MAKERS: dict[Callable[[Path], object], str] = {
    text: "is not an airtally store",
    short_text: "is not an airtally store",
    other_program: "is a database of another program",
    other_program_unfinished: "is a database of another program",
    link: "is a symbolic link",
    dangling: "is a symbolic link",
    Path.mkdir: "is a folder",
    os.mkfifo: "is a device, pipe or socket",
}


@pytest.mark.parametrize("make", MAKERS, ids=lambda make: make.__name__)
def test_what_is_not_ours_is_refused_in_words_and_left_as_it_was(
    tmp_path: Path, make: Callable[[Path], object]
) -> None:
    place = tmp_path / "airtally.db"
    make(place)
    if not place.is_symlink():
        place.chmod(0o755 if place.is_dir() else 0o644)
    before = {path.name: state(path) for path in tmp_path.iterdir()}
    with pytest.raises(StoreError, match=MAKERS[make]):
        open_store(f"sqlite:///{place}")
    assert {path.name: state(path) for path in tmp_path.iterdir()} == before


def test_a_device_is_refused(tmp_path: Path) -> None:
    before = state(Path("/dev/null"))
    with pytest.raises(StoreSettingError, match="is a device"):
        open_store("sqlite:////dev/null")
    assert state(Path("/dev/null")) == before


def test_a_file_of_another_user_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = tmp_path / "airtally.db"
    open_store(f"sqlite:///{place}").dispose()
    place.chmod(0o666)
    before = state(place)
    monkeypatch.setattr(own_file.os, "geteuid", lambda: place.stat().st_uid + 1)
    with pytest.raises(StoreSettingError, match="belongs to another user"):
        open_store(f"sqlite:///{place}")
    assert state(place) == before


def test_our_own_store_opens_again_whatever_was_left_in_its_write_ahead_log(tmp_path: Path) -> None:
    scratch = tmp_path / "scratch.db"
    engine = open_store(f"sqlite:///{scratch}")
    with engine.connect() as held:  # the log stays as it is while somebody reads
        held.exec_driver_sql("SELECT 1 FROM fact").all()
        place = tmp_path / "airtally.db"
        place.write_bytes(scratch.read_bytes())
        place.with_name("airtally.db-wal").write_bytes(scratch.with_name("scratch.db-wal").read_bytes())
    engine.dispose()
    place.chmod(0o644)
    open_store(f"sqlite:///{place}").dispose()
    assert stat.S_IMODE(place.stat().st_mode) == 0o600
