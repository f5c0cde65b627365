"""Opening the store: the schema is the migrations' own, old stores are brought up to date, newer ones refused."""

import sqlite3
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from server.store.engine import open_store, reading, writing
from server.store.facts import Raced, raise_version, read_version
from server.store.schema import metadata
from shared.errors import StoreError


def test_the_migrations_make_just_the_tables_that_the_code_speaks_of(tmp_path: Path) -> None:
    engine = open_store(f"sqlite:///{tmp_path / 'a.db'}")
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
    engine.dispose()


def test_a_store_of_a_newer_airtally_is_refused_with_what_to_do(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'a.db'}"
    open_store(url).dispose()
    with sqlite3.connect(tmp_path / "a.db") as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    with pytest.raises(StoreError, match="was made by a newer airtally"):
        open_store(url)


def test_sqlite_runs_in_wal_and_a_writer_locks_from_its_first_statement(tmp_path: Path) -> None:
    engine = open_store(f"sqlite:///{tmp_path / 'a.db'}", busy_ms=50)
    with reading(engine) as connection:
        assert connection.execute(sa.text("PRAGMA journal_mode")).scalar() == "wal"
    with writing(engine) as connection:
        raise_version(connection)
        with pytest.raises(StoreError, match="locked"), writing(engine):
            pass
        with reading(engine) as other:  # readers see the state before, and do not wait
            assert read_version(other) == 0
    engine.dispose()


def test_a_batch_made_on_a_stale_check_point_is_given_up(tmp_path: Path) -> None:
    engine = open_store(f"sqlite:///{tmp_path / 'a.db'}")
    with writing(engine) as connection:
        raise_version(connection)
    with pytest.raises(Raced), writing(engine) as connection:
        raise_version(connection, expected=0)
    engine.dispose()


@pytest.mark.parametrize("url", ["nonsense", "oracle://x", "sqlite:////nowhere/at/all.db"])
def test_a_url_that_leads_nowhere_is_a_sentence(url: str) -> None:
    with pytest.raises(StoreError):
        open_store(url)
