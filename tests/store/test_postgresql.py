"""The same program on PostgreSQL: a real server, the same rows and figures as on SQLite."""

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.analytics.hour_tallies import Reckoning, window_sums
from server.config import load_station
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store import schema
from server.store.engine import open_store, reading
from server.store.serving import Serving, claim_serving
from shared.errors import StoreError, StoreSettingError
from shared.zones import week_window

pytestmark = pytest.mark.real
SAMPLES = Path(__file__).parents[2] / "sample_logs"


@pytest.fixture(scope="module")
def postgres() -> Iterator[str]:
    """The URL of a server of our own in a scratch folder."""
    programs = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if not programs:
        if os.environ.get("CI"):
            pytest.fail("PostgreSQL is not installed: .ci/run must install it")
        pytest.skip("PostgreSQL is not installed here (Debian: apt-get install postgresql)")
    programs_folder = programs[-1].parent
    place = Path(tempfile.mkdtemp(prefix="airtally-pg-"))
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]

    def run(*command: str) -> None:
        as_user = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []  # the server refuses to run as root
        subprocess.run(
            [*as_user, *command], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=place
        )

    if os.geteuid() == 0:
        owner = pwd.getpwnam("postgres")
        os.chown(place, owner.pw_uid, owner.pw_gid)
    run(str(programs_folder / "initdb"), "-D", str(place / "data"), "-U", "keeper", "--auth=trust", "--encoding=UTF8")
    options = f"-p {port} -k {place} -c listen_addresses=127.0.0.1 -c fsync=off"
    run(
        str(programs_folder / "pg_ctl"),
        "-D",
        str(place / "data"),
        "-o",
        options,
        "-w",
        "-l",
        str(place / "log"),
        "start",
    )
    yield f"postgresql+psycopg://keeper@127.0.0.1:{port}/postgres"
    run(str(programs_folder / "pg_ctl"), "-D", str(place / "data"), "-m", "immediate", "stop")
    shutil.rmtree(place, ignore_errors=True)


def station(folder: Path, url: str) -> Path:
    folder.mkdir()
    for log in SAMPLES.glob("*.log"):
        shutil.copy(log, folder)
    logs = "".join(
        f'[[log]]\npath = "{name}.log"\ndialect = "{name}"\n' for name in ("brackenfell-a", "gimmer-rigg", "scar-csv")
    )
    (folder / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[timers]\nhold_s = 20\nquiet_log_s ='
        f' 900\n{logs}[store]\nurl = "{url}"\n'
    )
    return folder / "station.toml"


def test_postgresql_holds_the_same_rows_and_gives_the_same_figures(postgres: str, tmp_path: Path) -> None:
    rows, figures, sums = [], [], []
    for name, url in (("sqlite", "sqlite:///airtally.db"), ("postgresql", postgres)):
        kept = load_station(station(tmp_path / name, url))
        engine = open_store(kept.store_url())
        caught = Intake(engine, kept).catch_up()
        assert caught.lines > 100 and caught.overs > 20
        assert Intake(engine, kept).catch_up().lines == 0
        source = StoreSource(engine, kept)
        bounds = source.first_and_last()
        assert bounds is not None
        week = week_window(f"{2026}-W43", kept.zone)
        reckoning = Reckoning(kept.timers_for_figures(), kept.zone, {})
        figures.append((source.figures(*week), source.figures(bounds[0], bounds[1])))
        sums.append(window_sums(engine, reckoning, *week))
        over = schema.over
        with reading(engine) as connection:
            found = connection.execute(
                sa.select(over.c.start, over.c.end, over.c.mode, over.c.slot, over.c.station, over.c.ber_pct)
            )
            rows.append(sorted((tuple(row) for row in found), key=repr))
        engine.dispose()
    assert rows[0] == rows[1]
    assert figures[0] == figures[1]
    assert sums[0] == sums[1]


def test_a_server_that_refuses_a_user_is_told_without_the_password(postgres: str) -> None:
    with pytest.raises(StoreError) as refused:
        open_store(postgres.replace("keeper@", "nobody:s3cr3t-heather@"))
    assert "nobody" in str(refused.value) and "s3cr3t" not in str(refused.value)


def test_a_station_is_forgotten_on_postgresql_too(postgres: str) -> None:
    from server.store.forgetting import erase, look, scrub
    from tests.store.test_forgetting import SPELLINGS, WHO, planted

    admin = sa.create_engine(postgres, isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        connection.exec_driver_sql("CREATE DATABASE forgetting")
    admin.dispose()
    engine = planted(postgres.rpartition("/")[0] + "/forgetting")
    assert len(look(engine, WHO).rows["over"]) == len(SPELLINGS)
    gone = erase(engine, WHO)
    scrub(engine)
    assert gone.total() and look(engine, WHO).total() == 0
    with (
        reading(engine) as connection
    ):  # what the server reads of the table's own file (PostgreSQL's manual, "System Administration Functions")
        path = connection.execute(sa.text("select pg_relation_filepath('over')")).scalar_one()
        held = connection.execute(sa.text("select pg_read_binary_file(:path)"), {"path": path}).scalar_one()
    assert b"QA1XYZ" not in bytes(held).replace(b"QA1XYZA", b"").replace(b"BQA1XYZ", b"")
    engine.dispose()


def test_one_airtally_serves_a_database_and_a_lost_one_lets_the_next_in(postgres: str) -> None:
    first, second = open_store(postgres), open_store(postgres)
    claim = claim_serving(first)
    claim.say(Serving(4711, "2026-11-27 18:00", "http://127.0.0.1:8087/"))
    with pytest.raises(
        StoreSettingError, match=r"process 4711, since 2026-11-27 18:00, pages at http://127\.0\.0\.1:8087/"
    ):
        claim_serving(second)
    claim.close()
    claim_serving(second).close()
    first.dispose()
    second.dispose()
