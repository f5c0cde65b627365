"""A store that is up to date opens without Alembic."""

import subprocess
import sys
from pathlib import Path

from alembic.config import Config
from alembic.script import ScriptDirectory

from server.store.engine import REVISION, open_store

MIGRATIONS = Path(__file__).parents[2] / "server" / "store" / "migrations"


def test_the_newest_migration_is_the_revision_that_opening_looks_for() -> None:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    assert ScriptDirectory.from_config(config).get_current_head() == REVISION


def test_a_store_that_is_up_to_date_opens_without_importing_alembic(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'airtally.db'}"
    open_store(url)
    code = f"import sys; from server.store.engine import open_store; open_store({url!r}); sys.exit('alembic' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=MIGRATIONS.parents[2]).returncode == 0
