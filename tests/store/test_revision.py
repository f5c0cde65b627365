"""A store that is up to date opens without Alembic, and one of every released schema becomes one that is up to date."""

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from server.config import load_station
from server.intake.ingest import Intake
from server.store import schema
from server.store.engine import REVISION, open_store, reading
from tests.intake.conftest import over_line

MIGRATIONS = Path(__file__).parents[2] / "server" / "store" / "migrations"


def test_the_newest_migration_is_the_revision_that_opening_looks_for() -> None:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    assert ScriptDirectory.from_config(config).get_current_head() == REVISION


def test_a_store_that_is_up_to_date_opens_without_importing_alembic(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'airtally.db'}"
    open_store(url)
    code = (
        f"import sys; from server.store.engine import open_store; open_store({url!r}); sys.exit('alembic' in"
        " sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], cwd=MIGRATIONS.parents[2]).returncode == 0


RELEASED = sorted(
    (Path(__file__).parent / "released").glob("*.sql")
)  # stores as released versions left them, of host.log and host.log.1


@pytest.mark.parametrize("released", RELEASED, ids=lambda path: path.stem)
def test_a_store_of_a_released_schema_opens_has_todays_and_reads_on_in_a_folder_of_another_name(
    tmp_path: Path, released: Path
) -> None:
    file = sqlite3.connect(tmp_path / "airtally.db")
    file.executescript(released.read_text())
    file.close()
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs/host.log.1").write_bytes(b"".join(over_line(number) for number in range(60)) + b"what is this\n")
    (tmp_path / "logs/host.log").write_bytes(
        b"".join(over_line(number) for number in range(60, 101))
    )  # one line is new
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[[log]]\npath = "logs/host.log"\n'
    )
    station = load_station(tmp_path / "station.toml")
    engine = open_store(station.store_url())
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), schema.metadata) == []
    assert Intake(engine, station).catch_up().lines == 1
    with reading(engine) as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(schema.over)).scalar() == 101
        assert connection.execute(sa.select(schema.log.c.name, schema.log.c.lines)).all() == [
            (str(tmp_path / "logs/host.log"), 102)
        ]
    engine.dispose()
