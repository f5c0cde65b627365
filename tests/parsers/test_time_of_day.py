"""Stamps without a date, and zones that stamps name (docs/contract.md, Dialect file), against Python's own calendar."""

import datetime as dt
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parsers.dialect import DialectError
from parsers.reading import Carry
from parsers.samples import check_samples
from shared.events import UNREAD
from shared.zones import SECOND, to_us
from tests.parsers.helpers import alive, dialect, read

HEAD = 'time = "%H:%M:%S"\nzone = "Europe/London"'
LONDON = ZoneInfo("Europe/London")


def at(text: str, zone: ZoneInfo = LONDON) -> int:
    return to_us(dt.datetime.fromisoformat(text).replace(tzinfo=zone))


def test_days_are_counted_back_from_the_end_over_the_midnights(tmp_path: Path) -> None:
    lines = ["22:00:00 well", "23:59:59 well", "00:00:01 well", "12:00:00 well", "03:00:00 well"]
    reading = read(alive(tmp_path, HEAD), *lines, around_us=at("2026-03-04 03:00:05"))
    days = [
        "2026-03-02 22:00:00",
        "2026-03-02 23:59:59",
        "2026-03-03 00:00:01",
        "2026-03-03 12:00:00",
        "2026-03-04 03:00:00",
    ]
    assert list(reading.stamps) == [at(day) for day in days]


def test_a_last_line_later_in_the_day_than_the_files_end_is_of_the_day_before(tmp_path: Path) -> None:
    reads = alive(tmp_path, HEAD)
    assert list(read(reads, "23:30:00 well", around_us=at("2026-03-04 03:00:00")).stamps) == [at("2026-03-03 23:30:00")]
    ahead = read(reads, "03:00:40 well", around_us=at("2026-03-04 03:00:00"))
    assert list(ahead.stamps) == [at("2026-03-04 03:00:40")], "a host's clock is a little ahead"


def test_a_line_written_late_over_midnight_and_a_clock_set_back_an_hour_are_no_new_day(tmp_path: Path) -> None:
    lines = [
        "23:59:59 well",
        "00:00:02 well",
        "23:59:58 well",
        "00:00:03 well",
        "01:59:00 well",
        "01:00:00 well",
        "02:10:00 well",
    ]
    reading = read(alive(tmp_path, HEAD), *lines, around_us=at("2026-10-25 03:00:00"))
    days = ["2026-10-24 23:59:59", "2026-10-25 00:00:02", "2026-10-24 23:59:58", "2026-10-25 00:00:03"]
    assert list(reading.stamps[:4]) == [at(day) for day in days]
    # British summer time ends at 01:00 UTC that day: 01:59 comes twice, and 01:00 after it is the second.
    assert [(t - at("2026-10-25 00:00:00")) // (60 * SECOND) for t in reading.stamps[4:]] == [119, 120, 190]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 20 * 3600 - 1), min_size=1, max_size=40), st.integers(0, 86_399), st.integers(0, 39))
def test_any_log_without_a_gap_of_20_h_has_its_days_whole_or_in_parts(gaps: list[int], begin: int, cut: int) -> None:
    import tempfile

    utc = ZoneInfo("UTC")
    moments = [dt.datetime(2026, 5, 1, tzinfo=utc) + dt.timedelta(seconds=begin)]
    for gap in gaps:
        moments.append(moments[-1] + dt.timedelta(seconds=gap))
    with tempfile.TemporaryDirectory() as folder:
        reads = alive(Path(folder), 'time = "%H:%M:%S"')
    lines = [moment.strftime("%H:%M:%S well") for moment in moments]
    wanted = [to_us(moment) for moment in moments]
    whole = read(reads, *lines, around_us=wanted[-1] + SECOND)
    assert list(whole.stamps) == wanted
    first = read(reads, *lines[:cut], carry=Carry(first_day=wanted[0] // (86_400 * SECOND)), around_us=0)
    second = read(reads, *lines[cut:], carry=first.carry, around_us=0)
    assert [*first.stamps, *second.stamps] == wanted and second.carry == whole.carry


def test_lines_that_did_not_follow_one_another_each_lie_after_the_stamp_before_them(tmp_path: Path) -> None:
    near = np.array([at("2026-03-02 22:00:00"), at("2026-03-09 08:00:00"), at("2026-04-01 08:00:00")])
    reading = read(alive(tmp_path, HEAD), "21:59:00 well", "03:00:00 well", "08:00:00 well", carry=Carry(near_us=near))
    assert list(reading.stamps) == [at("2026-03-02 21:59:00"), at("2026-03-10 03:00:00"), at("2026-04-01 08:00:00")]


def test_samples_of_a_dialect_without_dates_are_run(tmp_path: Path) -> None:
    shape = (
        "[[line]]\nevent = 'alive'\ntext = '{t} well'\n[[line.sample]]\ntext = '18:22:05 well'\ngives = { event ="
        " 'alive' }"
    )
    assert check_samples(dialect(tmp_path, shape, HEAD)) == []


@pytest.mark.parametrize(
    ("time", "says"), [("%H:%M %z", "offset"), ("%m %H:%M", "part of the date"), ("%a %Y %H:%M", "part of the date")]
)
def test_half_a_date_and_an_offset_without_a_date_are_refused(tmp_path: Path, time: str, says: str) -> None:
    with pytest.raises(DialectError, match=says):
        alive(tmp_path, f'time = "{time}"')


NAMED_HEAD = 'time = "%Y-%m-%d %H:%M:%S %Z"\nzone = "Europe/London"'


@pytest.mark.parametrize(
    ("stamp", "utc"),
    [
        ("2026-07-01 12:00:00 UTC", "2026-07-01 12:00:00"),
        ("2026-07-01 12:00:00 GMT", "2026-07-01 12:00:00"),
        ("2026-07-01 12:00:00 Z", "2026-07-01 12:00:00"),
        ("2026-07-01 12:00:00 BST", "2026-07-01 11:00:00"),
        ("2026-10-25 01:30:00 BST", "2026-10-25 00:30:00"),  # the hour that comes twice: the name tells which
        ("2026-10-25 01:30:00 GMT", "2026-10-25 01:30:00"),
    ],
)
def test_a_zones_name_in_a_stamp_is_what_it_says(tmp_path: Path, stamp: str, utc: str) -> None:
    assert list(read(alive(tmp_path, NAMED_HEAD), f"{stamp} well").stamps) == [at(utc, ZoneInfo("UTC"))]


def test_a_name_that_the_dialects_zone_does_not_have_then_leaves_the_line_unread_and_is_told(tmp_path: Path) -> None:
    lines = [
        "2026-01-01 12:00:00 GMT well",
        "2026-01-01 12:00:00 BST well",
        "2026-01-01 12:00:01 CET well",
        "2026-01-01 12:00:02 CET well",
    ]
    reading = read(alive(tmp_path, NAMED_HEAD), *lines)
    assert list(reading.verdicts[1:]) == [UNREAD] * 3
    assert sorted(remark[:40] for remark in reading.remarks) == [
        "1 line names the time zone BST, which Eu",
        "2 lines name the time zone CET, which Eu",
    ]
    assert read(alive(tmp_path, NAMED_HEAD.replace("London", "Oslo")), lines[2]).stamps[0] == at(
        "2026-01-01 11:00:01", ZoneInfo("UTC")
    )


def test_a_zones_name_on_a_stamp_without_a_year_must_be_one_of_the_dialects_zone(tmp_path: Path) -> None:
    reads = alive(tmp_path, 'time = "%b %d %H:%M:%S %Z"\nzone = "Europe/London"')
    lines = ["Jul 01 12:00:00 BST well", "Jul 01 12:00:01 CEST well"]
    reading = read(reads, *lines, around_us=at("2026-08-01 00:00:00"))
    assert reading.stamps[0] == at("2026-07-01 12:00:00") and reading.verdicts[1] == UNREAD
