"""Years that syslog leaves out and hours that a zone has twice. Clock changes of Europe/London: IANA tz database,
worked.
"""

import datetime as dt
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parsers.dialect import reader
from parsers.reading import Carry, Reader
from shared.zones import DAY, HOUR, SECOND, from_us, to_us
from tests.parsers.helpers import alive, dialect, read

LONDON = 'zone = "Europe/London"'
SYSLOG = LONDON + '\ntime = "syslog"'
FORWARD_2026, BACK_2026 = 1_774_746_000 * SECOND, 1_792_890_000 * SECOND


def utc(*parts: int) -> int:
    return to_us(dt.datetime(*parts, tzinfo=dt.UTC))  # type: ignore[arg-type,misc]


@lru_cache
def yearless_reader() -> Reader:
    with TemporaryDirectory() as folder:
        return alive(Path(folder), SYSLOG)


def test_the_hour_that_comes_twice_is_told_by_the_order_of_the_lines(tmp_path: Path) -> None:
    lines = [
        f"2026-10-25T{time} well" for time in ("00:59:00", "01:30:00", "01:59:59", "01:00:00", "01:30:00", "02:00:00")
    ]
    got = read(alive(tmp_path, LONDON), *lines).stamps
    # IANA tz database (worked out): 2026-10-25 01:30 local is 00:30Z, then 01:30Z
    assert list(got) == [
        utc(2026, 10, 24, 23, 59),
        utc(2026, 10, 25, 0, 30),
        BACK_2026 - SECOND,
        BACK_2026,
        utc(2026, 10, 25, 1, 30),
        utc(2026, 10, 25, 2),
    ]


def test_a_line_a_little_out_of_order_does_not_count_as_the_second_pass(tmp_path: Path) -> None:
    got = read(
        alive(tmp_path, LONDON), "2026-10-25T01:30:03 well", "2026-10-25T01:30:00 well", "2026-10-25T01:29:50 well"
    ).stamps
    assert list(got) == [utc(2026, 10, 25, 0, 30, 3), utc(2026, 10, 25, 0, 30), utc(2026, 10, 25, 1, 29, 50)]


def test_the_order_reaches_over_from_the_batch_before(tmp_path: Path) -> None:
    reads = alive(tmp_path, LONDON)
    first = read(reads, "2026-10-25T01:59:59 well")
    second = read(reads, "2026-10-25T01:00:01 well", carry=first.carry)
    assert list(second.stamps) == [BACK_2026 + SECOND]


@pytest.mark.parametrize("change", [dt.datetime(2025, 3, 30, 1), dt.datetime(2026, 3, 29, 1)])
def test_a_time_that_is_left_out_counts_with_the_offset_before(tmp_path: Path, change: dt.datetime) -> None:
    lines = [f"{change + dt.timedelta(minutes=m):%Y-%m-%dT%H:%M:%S} well" for m in (-1, 30, 60)]
    before = to_us(change.replace(tzinfo=dt.UTC))
    assert list(read(alive(tmp_path, LONDON), *lines).stamps) == [
        before - 60 * SECOND,
        before + 30 * 60 * SECOND,
        before,
    ]
    assert change.year != 2026 or before == FORWARD_2026


def test_a_whole_over_stamped_at_its_start_was_written_at_its_end(tmp_path: Path) -> None:
    shapes = "[[line]]\nevent = 'over'\ntext = '{t} over {duration}'\n[[line]]\nevent = 'alive'\ntext = '{t} well'"
    reads = reader(dialect(tmp_path, shapes, LONDON))
    # Written at 01:40 for the first time, so that 01:20 can only be the second.
    reading = read(reads, "2026-10-25T01:10:00 over 30m00s", "2026-10-25T01:20:00 well")
    assert list(reading.stamps) == [utc(2026, 10, 25, 0, 10), utc(2026, 10, 25, 1, 20)]
    first = read(reads, "2026-10-25T01:10:00 over 30m00s")
    assert first.carry.last_us == utc(2026, 10, 25, 0, 40)


def test_a_whole_over_stamped_at_its_end_begins_before_its_stamp(tmp_path: Path) -> None:
    reads = reader(dialect(tmp_path, "[[line]]\nevent = 'over'\ntext = '{t} over {duration}'", 'stamp = "end"'))
    reading = read(reads, "2026-03-01T18:22:17.400 over 12.4s")
    assert (
        reading.events["t"][0] == utc(2026, 3, 1, 18, 22, 5)
        and reading.stamps[0] == utc(2026, 3, 1, 18, 22, 5) + 12_400_000
    )


def test_the_year_is_the_latest_that_is_no_later_than_a_day_after_reading(tmp_path: Path) -> None:
    reads = alive(tmp_path, SYSLOG)
    for around, year in (
        (utc(2026, 3, 2), 2026),
        (utc(2026, 3, 1, 0, 0, 1), 2026),
        (utc(2026, 2, 27), 2025),
        (utc(2025, 12, 31), 2025),
    ):
        assert from_us(int(read(reads, "Mar  1 12:00:00 well", around_us=around).stamps[0])).year == year


def test_over_new_year_the_year_is_one_more(tmp_path: Path) -> None:
    reads = alive(tmp_path, SYSLOG)
    lines = [
        "Dec 31 23:59:58 well",
        "Jan  1 00:00:01 well",
        "Dec 31 23:59:59 well",
        "Jan  1 00:00:02 well",
        "Jul  9 00:00:00 well",
    ]
    got = [
        from_us(int(us), ZoneInfo("Europe/London")).year
        for us in read(reads, *lines, around_us=utc(2026, 7, 10)).stamps
    ]
    assert got == [2025, 2026, 2025, 2026, 2026]
    carry = read(reads, *lines[:2], around_us=utc(2026, 1, 2)).carry
    assert read(reads, "Mar  1 00:00:00 well", carry=carry).stamps[0] == utc(2026, 3, 1)


def test_a_leap_day_falls_in_a_leap_year(tmp_path: Path) -> None:
    reads = alive(tmp_path, SYSLOG)
    assert read(reads, "Feb 29 12:00:00 well", around_us=utc(2026, 5, 1)).stamps[0] == utc(2024, 2, 29, 12)
    reading = read(
        reads, "Feb 28 12:00:00 well", "Feb 29 12:00:00 well", "Mar  1 12:00:00 well", around_us=utc(2026, 5, 1)
    )
    assert list(reading.verdicts) == [0, 2, 0] and reading.stamps[2] == utc(2026, 3, 1, 12)


@settings(max_examples=40, deadline=None)
@given(
    st.integers(utc(2023, 1, 1), utc(2027, 1, 1)), st.lists(st.integers(0, 170 * DAY), max_size=12), st.integers(0, 11)
)
def test_rising_stamps_without_a_year_are_told_however_the_log_is_split(first: int, gaps: list[int], cut: int) -> None:
    zone = ZoneInfo("Europe/London")
    told = [first // SECOND * SECOND]
    for gap in gaps:
        told.append(told[-1] + gap // SECOND * SECOND)
    lines = [from_us(t, zone).strftime("%b %e %H:%M:%S well") for t in told]
    reads = yearless_reader()
    around = told[-1] + 1
    before = Carry(told[0] - SECOND)  # as intake dates a file's beginning
    one = read(reads, *lines[:cut], carry=before, around_us=around)
    two = read(reads, *lines[cut:], carry=one.carry if cut else before, around_us=around)
    got = [*one.stamps, *two.stamps]
    # An hour that comes twice may be taken for the first where nothing speaks for the second.
    assert all(t - g in (0, HOUR) for t, g in zip(told, got, strict=True))
    assert all(t == g for t, g in zip(told, got, strict=True) if from_us(t, zone).fold == 0)
