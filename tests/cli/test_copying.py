"""`backup` and `restore` as a keeper types them: whole, sound, private, and never over what is newer without a word."""

import json
import os
import sqlite3
import stat
from contextlib import closing
from pathlib import Path

import pytest

from server.store.engine import open_store
from server.store.serving import Serving, claim_serving
from tests.cli.test_commands import LINES, airtally, hill, read, refused

__all__ = ["hill", "read"]


def overs(folder: Path) -> list[str]:
    """The overs of the month, as the command gives them."""
    return airtally("overs", "--month", "2026-11", cwd=folder).stdout.splitlines()


def test_a_copy_is_one_private_file_that_holds_all_though_the_store_is_in_use(read: Path) -> None:
    store = open_store(f"sqlite:///{read / 'airtally.db'}")
    with closing(sqlite3.connect(read / "airtally.db")) as busy:
        busy.execute("BEGIN")
        busy.execute("SELECT count(*) FROM over").fetchone()
        done = airtally("backup", "copy.db", cwd=read)
    assert done.returncode == 0, done.stderr
    assert "5 lines, 2 overs, known up to Mon 16 Nov 2026" in done.stdout and "is sound" in done.stdout
    assert stat.S_IMODE((read / "copy.db").stat().st_mode) == 0o600
    assert [path.name for path in read.iterdir() if path.name.startswith((".copy", "copy.db-"))] == []
    other = read / "elsewhere"
    other.mkdir()
    (other / "station.toml").write_bytes((read / "station.toml").read_bytes())
    os.link(read / "copy.db", other / "moved.db")
    (other / "moved.db").rename(other / "airtally.db")
    (read / "copy.db").unlink()
    store.dispose()
    assert overs(other) == overs(read) != []


def test_what_was_there_comes_back_and_the_logs_are_read_on(read: Path) -> None:
    before = overs(read)
    assert airtally("backup", "copy.db", cwd=read).returncode == 0
    with (read / "host.log").open("a") as log:
        log.write(json.dumps({"t": "2026-11-16T20:00:00Z", "event": "over", "mode": "fm", "seconds": 9}) + "\n")
    assert "1 over" in airtally("ingest", cwd=read).stdout
    grown = overs(read)
    assert len(grown) == len(before) + 1
    assert "--yes puts the copy back all the same" in refused_after_counts("restore", "copy.db", cwd=read)
    assert overs(read) == grown
    shown = airtally("restore", "copy.db", "--dry-run", cwd=read).stdout
    assert "The store:  6 lines, 3 overs" in shown and "The copy:   5 lines, 2 overs" in shown
    assert overs(read) == grown
    assert airtally("restore", "copy.db", "--yes", cwd=read).returncode == 0
    assert overs(read) == before
    assert "1 over" in airtally("ingest", cwd=read).stdout
    assert overs(read) == grown


def refused_after_counts(*arguments: str, cwd: Path) -> str:
    """The sentence of a refusal that comes after both stores were told of."""
    done = airtally(*arguments, cwd=cwd)
    assert done.returncode == 2 and "The store:" in done.stdout
    return done.stderr


def test_a_store_that_is_served_is_not_replaced(read: Path) -> None:
    assert airtally("backup", "copy.db", cwd=read).returncode == 0
    store = open_store(f"sqlite:///{read / 'airtally.db'}")
    claim = claim_serving(store)
    claim.say(Serving(os.getpid(), "today", "http://127.0.0.1:1/"))
    pid = os.fork()
    if not pid:  # locks are a process's own
        os._exit(airtally("restore", "copy.db", "--yes", cwd=read).returncode)
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 2
    claim.close()
    store.dispose()


@pytest.mark.parametrize("content", [b"", b"a keeper's own notes", b"SQLite format 3\0" + b"x" * 5000])
def test_what_is_no_copy_is_neither_put_back_nor_written_over(content: bytes, read: Path) -> None:
    (read / "notes").write_bytes(content)
    before = overs(read)
    assert "is no copy" in refused("restore", "notes", "--yes", cwd=read)
    assert "name another file" in refused("backup", "notes", cwd=read)
    assert (read / "notes").read_bytes() == content and overs(read) == before
    assert "is the store itself" in refused("backup", "airtally.db", cwd=read)
    assert "is no copy" in refused("restore", "nothing-here", cwd=read)


def test_a_database_of_another_program_is_no_copy(read: Path) -> None:
    with closing(sqlite3.connect(read / "other.db")) as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
    assert "is no copy" in refused("restore", "other.db", cwd=read)


def test_a_damaged_copy_is_refused(read: Path) -> None:
    assert airtally("backup", "copy.db", cwd=read).returncode == 0
    content = bytearray((read / "copy.db").read_bytes())
    content[8192:] = os.urandom(len(content) - 8192)
    (read / "copy.db").write_bytes(content)
    said = refused("restore", "copy.db", "--yes", cwd=read)
    assert "damaged" in said or "can't be read" in said or "is no copy" in said
    assert overs(read) != []


def test_a_new_folder_takes_a_copy(read: Path, tmp_path: Path) -> None:
    assert airtally("backup", "copy.db", cwd=read).returncode == 0
    fresh = tmp_path / "fresh"
    fresh.mkdir()
    (fresh / "station.toml").write_bytes((read / "station.toml").read_bytes())
    done = airtally("restore", str(read / "copy.db"), cwd=fresh)
    assert done.returncode == 0, done.stderr
    assert len(LINES) == 5 and overs(fresh) == overs(read)
