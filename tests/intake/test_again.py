"""Reading again: what the files still hold is replaced at once, what they no longer hold stays."""

import gzip
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
import sqlalchemy as sa
from click.testing import CliRunner

from server.cli import cli
from server.intake.again import LogAgain, read_again, with_logs
from server.intake.ingest import Intake
from server.intake.outdated import to_read_again
from server.store import schema
from server.store.engine import open_store, reading
from shared.errors import UnusableError
from tests.intake.conftest import Folder, MakeFolder, over_line
from tests.intake.test_kill import COMPARED, host_lines, rows_of
from tests.intake.test_outdated import DIALECT

ROWS = {**COMPARED, schema.log: (*COMPARED[schema.log], "dialect", "carries")}
HOURS = 3_600_000_000


def lines(*numbers: int) -> bytes:
    return b"".join(over_line(number) for number in numbers)


def rows(one: Folder) -> dict[str, list[tuple]]:
    return rows_of(one.path, "airtally.db")


def fresh(one: Folder) -> dict[str, list[tuple]]:
    """What a store holds that reads the logs for the first time."""
    (one.path / "fresh.db").unlink(missing_ok=True)
    engine = open_store(f"sqlite:///{one.path / 'fresh.db'}")
    Intake(engine, one.station).catch_up()
    engine.dispose()
    return rows_of(one.path, "fresh.db")


def talk(minutes: range) -> bytes:
    return b"".join(b"2026-02-02 %02d:%02d:00 FM QA1XYZ for 3\n" % divmod(minute, 60) for minute in minutes)


@pytest.fixture
def fell(tmp_path: Path):
    (tmp_path / "fell.toml").write_text(DIALECT)
    one = Folder(tmp_path, dialect="fell")
    yield one
    one.close()


def kathmandu(one: Folder) -> None:
    (one.path / "fell.toml").write_text(DIALECT.replace('"UTC"', '"Asia/Kathmandu"'))  # +05:45


def test_a_wrong_zone_is_mended_and_what_no_file_holds_any_more_stays(fell: Folder) -> None:
    fell.write("host.log.2", talk(range(0, 100)))
    fell.write("host.log.1", talk(range(100, 200)))
    fell.write("host.log", talk(range(200, 300)))
    fell.catch_up()
    (fell.path / "host.log.2").unlink()
    before = sorted(start for (start,) in fell.rows(schema.over, "start"))
    kathmandu(fell)
    (said,) = read_again(fell.engine, fell.station)
    assert said == LogAgain(str(fell.path / "host.log"), 200, (200, 200), (0, 0), 100, 200)
    after = sorted(start for (start,) in fell.rows(schema.over, "start"))
    moved = [start - 5.75 * HOURS for start in before[100:]]
    assert after == sorted([*before[:100], *moved])
    assert fell.rows(schema.log, "lines", "understood", "first_us", "last_us") == [
        (300, 300, int(min(after) + 0), int(max(after)))
    ]
    with reading(fell.engine) as connection:
        assert to_read_again(connection, fell.station) == []
    fell.write("host.log", talk(range(300, 301)))
    fell.restart()
    assert fell.catch_up().lines == 1


def test_a_log_that_no_dialect_fitted_is_read_with_the_right_one(fell: Folder) -> None:
    fell.write("host.log", talk(range(0, 50)).replace(b"FM", b"AM"))
    fell.catch_up()
    (fell.path / "fell.toml").write_text(DIALECT.replace("FM", "AM"))
    (would,) = read_again(fell.engine, fell.station, dry_run=True)
    assert (would.lines, would.overs, would.unread) == (50, (0, 50), (50, 0))
    assert fell.rows(schema.over, "id") == []
    (did,) = read_again(fell.engine, fell.station)
    assert did == would
    assert rows(fell) == fresh(fell)


def test_a_log_that_tells_of_no_over_any_more_carries_none(fell: Folder) -> None:
    """What no file holds any more had none either, and so says nothing for it."""
    fell.write("host.log.1", talk(range(0, 50)).replace(b"FM", b"AM"))
    fell.write("host.log", talk(range(50, 100)))
    fell.catch_up()
    (fell.path / "host.log.1").unlink()
    assert fell.rows(schema.log, "carries") == [(True,)]
    (fell.path / "fell.toml").write_text(DIALECT.replace("FM", "AM"))
    (said,) = read_again(fell.engine, fell.station)
    assert (said.overs, said.left) == ((50, 0), 50)
    assert fell.rows(schema.log, "carries") == [(False,)]
    (fell.path / "fell.toml").write_text(DIALECT)
    read_again(fell.engine, fell.station)
    assert fell.rows(schema.log, "carries") == [(True,)]


def test_reading_again_what_has_not_changed_gives_the_store_that_was_there(folder: MakeFolder) -> None:
    one = folder()
    text = host_lines(3000, 7)
    for name, part in (("host.log.2", text[:1000]), ("host.log.1", text[1000:2000]), ("host.log", text[2000:])):
        one.write(name, b"".join(part))
        one.catch_up()
    before = rows(one)
    read_again(one.engine, one.station)
    assert rows(one) == before
    (one.path / "host.log.2").unlink()
    read_again(one.engine, one.station)  # overs that began in the file that is gone end in one that is there
    assert rows(one) == before
    (one.path / "host.log").unlink()
    read_again(one.engine, one.station)
    assert rows(one)["log"][0][1] == 3000


def test_notes_timers_incidents_and_notices_stay(fell: Folder) -> None:
    fell.write("host.log", talk(range(0, 50)))
    fell.catch_up()
    with fell.engine.begin() as connection:
        connection.execute(sa.insert(schema.timer_change).values(at=1, note="time-out 180 s"))
        connection.execute(sa.insert(schema.note).values(at=1, kind="site", text="a new fence", for_committee=False))
        made = (
            sa.insert(schema.incident)
            .values(rule="duty", subject="transmitter", raised=5, urgent=True, says="x")
            .returning(schema.incident.c.id)
        )
        incident = connection.execute(made).scalar_one()
        connection.execute(
            sa.insert(schema.notice).values(incident_id=incident, kind="raised", made=6, title="t", body="b")
        )
    kathmandu(fell)
    read_again(fell.engine, fell.station)
    for table in (schema.timer_change, schema.note, schema.incident, schema.notice):
        assert len(fell.rows(table, "id")) == 1


def test_one_log_of_several_is_read_again_and_the_others_are_left_alone(folder: MakeFolder) -> None:
    one = folder("a.log", "b.log")
    one.write("a.log", lines(1, 2))
    one.write("b.log", lines(3))
    one.catch_up()
    before = rows(one)
    for path in ("b.log", str(one.path / "b.log")):
        (said,) = read_again(one.engine, with_logs(one.station, path))
        assert said.log.endswith("b.log") and said.lines == 1
    assert rows(one) == before
    with pytest.raises(UnusableError, match="named there: a"):
        with_logs(one.station, "c.log")


def test_a_file_that_can_not_be_read_now_keeps_its_lines(folder: MakeFolder) -> None:
    one = folder()
    packed = gzip.compress(lines(*range(3000)))
    one.write("host.log.1.gz", packed)
    one.write("host.log", lines(3000))
    one.catch_up()
    before = rows(one)
    (one.path / "host.log.1.gz").write_bytes(packed[: len(packed) // 2])
    read_again(one.engine, one.station)
    assert rows(one)["over"] == before["over"]


def test_lines_that_an_older_version_stored_twice_are_stored_once_afterwards(folder: MakeFolder) -> None:
    one = folder()
    one.write("host.log", lines(*range(50)))
    one.catch_up()
    with one.engine.begin() as connection:  # the log once more, under another spelling of its path
        connection.execute(
            sa.text(
                "INSERT INTO log (name, dialect, lines, understood, ignored, unread, carries) "
                "SELECT '/elsewhere/host.log', dialect, lines, understood, ignored, unread, carries FROM log"
            )
        )
        new = connection.execute(sa.select(sa.func.max(schema.log.c.id))).scalar_one()
        names = [c.name for c in schema.file.c if c.name not in ("id", "log_id")]
        connection.execute(
            sa.text(f"INSERT INTO file (log_id, {', '.join(names)}) SELECT {new}, {', '.join(names)} FROM file")
        )
        second = connection.execute(sa.select(sa.func.max(schema.file.c.id))).scalar_one()
        connection.execute(
            sa.text(
                'INSERT INTO over (log_id, start, "end", target, doubtful, whole, file_id) '
                f'SELECT {new}, start, "end", target, doubtful, whole, {second} FROM over'
            )
        )
    assert len(one.numbers()) == 100
    read_again(one.engine, one.station)
    assert one.numbers() == list(range(50))
    assert len(one.rows(schema.log, "id")) == 1


@pytest.mark.parametrize("left", [2, 1])
def test_a_store_of_an_older_version_is_read_again(tmp_path: Path, left: int) -> None:
    file = sqlite3.connect(tmp_path / "airtally.db")
    file.executescript((Path(__file__).parents[1] / "store/released/0001.sql").read_text())
    file.close()
    (tmp_path / "logs").mkdir()
    if left == 2:
        (tmp_path / "logs/host.log.1").write_bytes(lines(*range(60)) + b"what is this\n")
    (tmp_path / "logs/host.log").write_bytes(lines(*range(60, 100)))
    one = Folder(tmp_path, logs=("logs/host.log",))
    (said,) = read_again(one.engine, one.station)
    assert said.lines == (101 if left == 2 else 40)
    assert one.numbers() == list(range(100))
    assert one.rows(schema.log, "lines", "understood", "ignored", "unread") == [(101, 100, 0, 1)]
    read_again(one.engine, one.station)
    assert one.numbers() == list(range(100))
    one.close()


def test_killed_at_any_instant_nothing_has_changed_or_all_has(fell: Folder) -> None:
    for part in range(3):
        fell.write(f"host.log.{3 - part}", talk(range(part * 400, part * 400 + 400)))
    fell.catch_up()
    before = rows(fell)
    kathmandu(fell)
    after = fresh(fell)
    code = (
        "import sys; from pathlib import Path; from server.config import load_station; from server.store.engine import"
        " open_store\nfrom server.intake.again import read_again\nstation = load_station(Path(sys.argv[1])); engine ="
        " open_store(station.store_url()); print('ready', flush=True)\nread_again(engine, station)"
    )
    killed = 0
    for attempt in range(12):
        process = subprocess.Popen([sys.executable, "-c", code, str(fell.station_file)], stdout=subprocess.PIPE)
        assert process.stdout is not None and process.stdout.readline() == b"ready\n"
        time.sleep(0.02 * attempt)
        process.send_signal(signal.SIGKILL)
        killed += process.wait() == -signal.SIGKILL
        process.stdout.close()
        assert rows(fell) in (before, after)
    assert killed
    read_again(fell.engine, fell.station)
    assert rows(fell) == after
    assert not list(fell.path.glob(".airtally-again-*"))


def test_beside_whoever_follows_no_line_is_lost_or_doubled(folder: MakeFolder) -> None:
    one = folder()
    follower = Intake(one.engine, one.station)
    written = 0
    for _round in range(6):
        for _ in range(30):
            one.write("host.log", over_line(written))
            written += 1
        follower.catch_up()
        one.write("host.log", over_line(written)[:20])
        read_again(one.engine, one.station)
        one.write("host.log", over_line(written)[20:])
        written += 1
        if _round == 3:
            os.replace(one.path / "host.log", one.path / "host.log.1")
        if _round == 4:
            shutil.copy(one.path / "host.log", one.path / "host.log.2")
        follower.catch_up()
        assert one.numbers() == list(range(written))


def test_the_command_tells_what_it_read_and_is_silent_about_progress_in_a_pipe(fell: Folder) -> None:
    fell.write("host.log", talk(range(0, 1200)))
    fell.catch_up()
    kathmandu(fell)
    runner = CliRunner()
    told = runner.invoke(cli, ["ingest", "--station", str(fell.station_file)])
    assert told.stderr.count("`airtally ingest --again`") == 1
    dry = runner.invoke(cli, ["ingest", "--again", "--dry-run", "--station", str(fell.station_file)])
    assert "1,200 lines would be read again; overs 1,200 before, 1,200 after; unread 0 before, 0 after." in dry.stdout
    assert dry.stdout.endswith("Nothing was changed.\n") and dry.stderr == ""
    done = runner.invoke(cli, ["ingest", "--again", "--station", str(fell.station_file)])
    assert done.exit_code == 0 and "1,200 lines read again" in done.stdout and done.stderr == ""
    assert runner.invoke(cli, ["ingest", "--dry-run", "--station", str(fell.station_file)]).exit_code == 2
    assert runner.invoke(cli, ["ingest", "--station", str(fell.station_file)]).stderr == ""


REFUSED = """
[[line]]
event = "refused"
text = "{t} no {station}"
set = { mode = "fm", reason = "busy" }
[[line.sample]]
text = "2026-02-02 10:00:00 no QA1XYZ"
gives = { station = "QA1XYZ" }
"""


def test_what_overs_and_refusals_get_is_told_where_their_count_stays(fell: Folder) -> None:
    (fell.path / "fell.toml").write_text(DIALECT + REFUSED)
    # Two of the overs are of the same instant.
    calls = b"".join(b"2026-02-02 21:%02d:30 no QA1XYZ\n" % minute for minute in range(7))
    fell.write("host.log", talk(range(0, 1200)) + b"2026-02-02 20:00:00 FM QA1XYZ for 3\n" * 2 + calls)
    fell.catch_up()
    mended = (DIALECT + REFUSED).replace('mode = "fm" }', 'mode = "nxdn", side = "air" }')
    (fell.path / "fell.toml").write_text(mended.replace('"busy"', '"lockout"'))
    command = ["ingest", "--again", "--station", str(fell.station_file)]
    dry = CliRunner().invoke(cli, [*command, "--dry-run"]).stdout
    said = "1,202 overs {} another side; 1,202 overs another mode; 7 refusals another reason."
    assert "overs 1,202 before, 1,202 after" in dry and said.format("would get") in dry
    assert said.format("got") in CliRunner().invoke(cli, command).stdout
    assert " another " not in CliRunner().invoke(cli, command).stdout


def second_shape(word: str) -> str:
    """The dialect with a second shape, of another mode."""
    return DIALECT + DIALECT[DIALECT.index("[[line]]") :].replace("FM", word).replace('"fm"', '"dmr"')


def test_an_over_that_comes_does_not_make_the_others_out_to_be_changed(fell: Folder) -> None:
    fell.write("host.log", talk(range(0, 60)).replace(b"00:07:00 FM", b"00:07:11 AM").replace(b"QA1XYZ", b"QA2ABC", 9))
    fell.catch_up()
    (fell.path / "fell.toml").write_text(second_shape("AM"))
    (said,) = read_again(fell.engine, fell.station)
    assert (said.overs, said.elsewhere, said.another) == ((59, 60), 1, {})


def test_an_over_in_place_of_another_leaves_the_rest_unchanged(fell: Folder) -> None:
    """As many before as after, and not moved by a zone: each over stands beside that of its own instant."""
    text = talk(range(0, 60)).replace(b"00:07:00 FM", b"00:07:11 PM").replace(b"00:50:00 FM", b"00:50:22 AM")
    fell.write("host.log", text.replace(b"QA1XYZ", b"QA2ABC", 30))
    (fell.path / "fell.toml").write_text(second_shape("PM"))
    fell.catch_up()
    (fell.path / "fell.toml").write_text(second_shape("AM"))
    (said,) = read_again(fell.engine, fell.station)
    assert (said.overs, said.elsewhere, said.another) == ((59, 59), 1, {"station": 1})
