"""Stamps without a year: a log is dated from its newest file back, whatever the file system says of times of change."""

import datetime as dt
import os
import random
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from parsers.clock import to_instants
from parsers.stamps import YEARLESS, read_stamps
from parsers.time_forms import NAMED
from server.cli import cli
from server.intake.again import read_again
from server.intake.ingest import Intake
from server.store import schema
from shared.zones import DAY, to_us
from tests.intake.conftest import Folder

DIALECT = """
[dialect]
name = "fell"
time = "syslog"
zone = "Europe/London"

[[line]]
event = "over"
text = "{t} FM {station} for {seconds}"
set = { mode = "fm" }
[[line.sample]]
text = "Feb  2 10:00:00 FM QA1XYZ for 3"
gives = { station = "QA1XYZ", seconds = 3.0 }
"""
NOW = dt.datetime(2026, 11, 27, 18, 0, tzinfo=dt.UTC)


def stamp(day: dt.datetime) -> str:
    return f"{day:%b} {day.day:2} {day:%H:%M:%S}"


def text(days: list[dt.datetime]) -> bytes:
    return "".join(f"{stamp(day)} FM QA1XYZ for 3\n" for day in days).encode()


def every(first: dt.date, last: dt.date, days: int) -> list[dt.datetime]:
    """Noon of each so-manieth day."""
    count = (last - first).days // days + 1
    return [dt.datetime.combine(first + dt.timedelta(days=days * n), dt.time(12), dt.UTC) for n in range(count)]


@pytest.fixture
def fell(tmp_path: Path):
    (tmp_path / "fell.toml").write_text(DIALECT)
    one = Folder(tmp_path, dialect="fell")
    one.intake = Intake(one.engine, one.station, now_us=lambda: to_us(NOW))
    yield one
    one.close()


def dates(one: Folder) -> list[dt.date]:
    return sorted(dt.datetime.fromtimestamp(start / 1e6, dt.UTC).date() for (start,) in one.rows(schema.over, "start"))


@pytest.mark.parametrize("touched", [dt.datetime(2099, 1, 1), dt.datetime(1971, 1, 1), None])
def test_a_log_of_three_years_in_many_files_is_dated_from_now_back(fell: Folder, touched: dt.datetime | None) -> None:
    whole = every(dt.date(2023, 5, 1), dt.date(2026, 11, 27), 3)
    for number in range(0, 10):
        part = whole[number * len(whole) // 10 : (number + 1) * len(whole) // 10]
        path = fell.write(f"host.log.{9 - number}" if number < 9 else "host.log", text(part))
        if touched:
            os.utime(path, (touched.timestamp(), touched.timestamp()))
    fell.catch_up()
    assert dates(fell) == [day.date() for day in whole]


@pytest.mark.parametrize("seed", range(3))
def test_files_between_which_most_of_a_year_is_missing_are_dated_from_the_newest_back(fell: Folder, seed: int) -> None:
    kept = (
        [*every(dt.date(2024, 3, 1), dt.date(2024, 3, 20), 1)],
        [*every(dt.date(2025, 2, 1), dt.date(2025, 2, 20), 1)],
    )
    for path, part in zip(("host.log.1", "host.log"), kept, strict=True):
        path = fell.write(path, text(part))
        os.utime(path, (random.Random(seed).randint(0, 2**31), 0))
    fell.catch_up()
    # The newest is dated by now: nothing tells how long ago a log ended.
    assert dates(fell) == [day.replace(year=day.year + 1).date() for part in kept for day in part]


def test_one_file_of_several_years_is_dated_by_its_end(fell: Folder) -> None:
    whole = every(dt.date(2022, 12, 20), dt.date(2026, 11, 26), 1)
    fell.write("host.log", text(whole) + b"")
    fell.catch_up()
    assert dates(fell) == [day.date() for day in whole]


def test_a_clock_that_fell_back_while_it_is_followed_leads_into_no_future_year(fell: Folder) -> None:
    fell.write("host.log", text(every(dt.date(2026, 11, 1), dt.date(2026, 11, 20), 1)))
    fell.catch_up()
    fell.write(
        "host.log",
        text([dt.datetime(2026, 1, 1, 0, 0, 7)]) + text(every(dt.date(2026, 11, 21), dt.date(2026, 11, 27), 1)),
    )
    fell.catch_up()
    assert max(dates(fell)) == dt.date(2026, 11, 27) and dt.date(2026, 1, 1) in dates(fell)


def test_reading_again_mends_years_that_lay_ahead_and_check_tells_of_them(fell: Folder) -> None:
    ahead = Intake(fell.engine, fell.station, now_us=lambda: to_us(dt.datetime(2031, 3, 1, tzinfo=dt.UTC)))
    whole = every(dt.date(2026, 5, 1), dt.date(2026, 5, 30), 1)
    fell.write("host.log", text(whole))
    ahead.catch_up()
    told = CliRunner().invoke(cli, ["check", "--station", str(fell.station_file)])
    assert told.exit_code == 1 and "30 lines are stamped in the future, the last 2030-05-30" in told.stdout
    read_again(fell.engine, fell.station, now_us=lambda: to_us(NOW))
    assert dates(fell) == [day.date() for day in whole]


@given(st.lists(st.integers(1, 85), min_size=1, max_size=40), st.integers(0, 299))
@settings(max_examples=40, deadline=None)
def test_stamps_in_their_order_keep_their_years(steps: list[int], before: int) -> None:
    """Checked against datetime: the days are made with years, and only those are taken away."""
    last = NOW - dt.timedelta(days=before)
    days = [last - dt.timedelta(days=sum(steps[n:])) for n in range(len(steps))] + [last]
    days = [day for day in days if (day.month, day.day) != (2, 29)]
    kinds, us = read_stamps(pl.Series([stamp(day) for day in days]), NAMED["syslog"], ZoneInfo("UTC"))
    assert (kinds == YEARLESS).all()
    nothing = np.zeros(len(days), dtype=np.int64)
    told, sure = to_instants(kinds, us.copy(), nothing, ZoneInfo("UTC"), None, to_us(last))
    assert sure.all() and told.tolist() == [to_us(day.replace(microsecond=0)) for day in days]
    assert told.max() <= to_us(last) + DAY


def test_a_lesson_on_a_file_dates_it_as_intake_does_whatever_its_time_of_change_says(tmp_path: Path) -> None:
    """Unpacking and copying set it to years ago, or ahead."""
    from server.teaching.learning import Task, learn_log

    now = dt.datetime.now(dt.UTC)
    day = (now - dt.timedelta(days=40)).replace(hour=6, minute=0, second=0, microsecond=0)
    told = [day + dt.timedelta(minutes=minute) for minute in range(200)]
    path = tmp_path / "host.log"
    said = [
        f"{t:%b %d %H:%M:%S} FM: mouth of"
        f" QA1X{'YZW'[t.minute % 3]} opens\n{t + dt.timedelta(seconds=4):%b %d %H:%M:%S} FM: mouth of"
        f" QA1X{'YZW'[t.minute % 3]} shuts, lasted 4.0 s\n"
        for t in told
    ]
    path.write_text("".join(said))
    for changed in (dt.datetime(2003, 5, 1, tzinfo=dt.UTC), dt.datetime(2037, 5, 1, tzinfo=dt.UTC)):
        os.utime(path, (changed.timestamp(), changed.timestamp()))
        lesson = learn_log(Task(path, "host.log", "UTC")).lesson
        assert lesson.sample_overs and {over.start[:10] for over in lesson.sample_overs} == {f"{day:%Y-%m-%d}"}
