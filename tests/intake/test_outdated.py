"""Whoever looks is told which lines were read otherwise than they would be now."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from server.cli import cli
from server.intake.outdated import ReadAgain, to_read_again
from server.source import StoreSource
from server.store.engine import reading
from tests.intake.conftest import Folder

DIALECT = """
[dialect]
name = "fell"
time = "%Y-%m-%d %H:%M:%S"
zone = "UTC"

[[line]]
event = "over"
text = "{t} FM {station} for {seconds}"
set = { mode = "fm" }
[[line.sample]]
text = "2026-02-02 10:00:00 FM QA1XYZ for 3"
gives = { station = "QA1XYZ", seconds = 3.0 }
"""


def told(one: Folder) -> list[ReadAgain]:
    with reading(one.engine) as connection:
        return to_read_again(connection, one.station)


@pytest.fixture
def fell(tmp_path: Path):
    (tmp_path / "fell.toml").write_text(DIALECT)
    one = Folder(tmp_path, dialect="fell")
    one.write("host.log", b"".join(b"2026-02-02 10:%02d:00 FM QA1XYZ for 3\n" % minute for minute in range(40)))
    one.catch_up()
    yield one
    one.close()


def test_nothing_is_told_while_all_is_as_it_was_read(fell: Folder) -> None:
    assert told(fell) == []
    (fell.path / "fell.toml").write_text(DIALECT.replace('name = "fell"', 'name = "other"') + "# a remark\n")
    assert told(fell) == []


def test_another_zone_is_told(fell: Folder) -> None:
    (fell.path / "fell.toml").write_text(DIALECT.replace('"UTC"', '"Asia/Kathmandu"'))
    (said,) = told(fell)
    assert (said.lines, said.why) == (40, "zone")
    assert (
        said.says
        == "40 lines were read in the zone UTC, and fell says Asia/Kathmandu now: `airtally ingest --again` reads them"
        " again."
    )
    assert StoreSource(fell.engine, fell.station).intake()[0].again == said


def test_only_the_lines_before_the_change_are_told(fell: Folder) -> None:
    (fell.path / "fell.toml").write_text(
        DIALECT.replace("for {seconds}", "for {seconds} s").replace("for 3", "for 3 s")
    )
    fell.restart()
    fell.write("host.log", b"2026-02-02 11:00:00 FM QA1XYZ for 3 s\n")
    fell.catch_up()
    (said,) = told(fell)
    assert (said.lines, said.why) == (40, "dialect")
    assert "were read before fell was changed" in said.says


def test_lines_whose_files_are_gone_are_not_told(fell: Folder) -> None:
    (fell.path / "fell.toml").write_text(DIALECT.replace('"UTC"', '"Asia/Kathmandu"'))
    (fell.path / "host.log").unlink()
    assert told(fell) == []


def test_a_log_none_of_whose_lines_was_understood_is_told(tmp_path: Path) -> None:
    one = Folder(tmp_path)  # activity lines were expected
    one.write("host.log", b"2026-02-02 10:00:00 FM QA1XYZ for 3\n" * 2500)
    runner = CliRunner()
    done = runner.invoke(cli, ["ingest", "--station", str(one.station_file)])
    assert done.exit_code == 0
    assert "2,500 lines are all unread" in done.stderr and "ingest --again" in done.stderr
    checked = runner.invoke(cli, ["check", "--station", str(one.station_file)])
    assert "are all unread" in checked.stdout
    one.close()


def test_what_was_unread_more_than_seven_days_ago_is_not_held_against_a_log_for_ever(tmp_path: Path) -> None:
    from server.web.now.state import log_stands
    from shared.zones import DAY

    (tmp_path / "fell.toml").write_text(DIALECT)
    one = Folder(tmp_path, dialect="fell")
    one.write("host.log", b"2026-02-02 09:00:00 FM QA1XYZ for 3\n")
    one.write("host.log", b"".join(b"2026-02-02 10:%02d:00 nobody reads this\n" % minute for minute in range(40)))
    one.write("host.log", b"".join(b"2026-02-%02d 10:00:00 FM QA1XYZ for 3\n" % day for day in range(3, 12)))
    one.catch_up()
    (log,) = StoreSource(one.engine, one.station).intake()
    now = log.last_us or 0
    for at, lately, told in ((now, (8, 0), False), (now - 7 * DAY, (50, 40), True)):
        (log,) = StoreSource(one.engine, one.station, at).intake()
        said = [remark.says for remark in log_stands(log, at, one.station.zone).remarks]
        assert (log.lately, any("of the last seven days could not be read" in one for one in said)) == (lately, told)
    one.close()
