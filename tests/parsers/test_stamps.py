"""Stamps against RFC 3339's own examples, and against Python's datetime as a second opinion."""

import datetime as dt

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parsers.stamps import INSTANT, NOT_READ, WALL, YEARLESS, read_stamps
from parsers.time_forms import NAMED, RFC3339_FORM, Form, time_form
from shared.zones import SECOND, to_us

EPOCH = dt.datetime(1970, 1, 1)
MOMENTS = st.datetimes(dt.datetime(1901, 1, 1), dt.datetime(2199, 1, 1))


def one(text: str, form: Form = NAMED["iso"]) -> tuple[int, int]:
    kinds, us = read_stamps(pl.Series([text], dtype=pl.String), form)
    return int(kinds[0]), int(us[0])


# RFC 3339 section 5.8, quoted; the instants worked out independently of this project.
@pytest.mark.parametrize("form", [NAMED["iso"], RFC3339_FORM])
@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1985-04-12T23:20:50.52Z", 482_196_050.52),
        ("1996-12-19T16:39:57-08:00", 851_042_397),
        ("1937-01-01T12:00:27.87+00:20", -1_041_337_172.13),
        ("1990-12-31T23:59:60Z", 662_688_000),
        ("1990-12-31T15:59:60-08:00", 662_688_000),
    ],
)
def test_the_examples_of_rfc_3339_are_read(text: str, seconds: float, form: Form) -> None:
    assert one(text, form) == (INSTANT, round(seconds * SECOND))


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-01T18:22:05.120z",
        "2026-03-01 18:22:05,12Z",
        "2026-03-01t19:22:05.12+01",
        "20260301T182205.12Z",
        "2026-03-01T18:22:05.120000999Z",
        "2026-03-01T13:22:05.12-0500",
        "2026-03-01T18:22:05.12 +00:00",
    ],
)
def test_iso_8601_is_read_in_its_variants(text: str) -> None:
    assert one(text) == (INSTANT, to_us(dt.datetime(2026, 3, 1, 18, 22, 5, 120_000, tzinfo=dt.UTC)))


def test_a_stamp_without_an_offset_is_wall_clock_time() -> None:
    assert one("2026-03-01T18:22:05") == (
        WALL,
        (dt.datetime(2026, 3, 1, 18, 22, 5) - EPOCH) // dt.timedelta(microseconds=1),
    )


@pytest.mark.parametrize(
    "text",
    [
        "",
        "2026-02-29T00:00:00Z",
        "2026-13-01T00:00:00Z",
        "2026-00-01T00:00:00Z",
        "2026-01-32T00:00:00Z",
        "2026-01-01T24:00:00Z",
        "2026-01-01T00:60:00Z",
        "2026-01-01T00:00:61Z",
        "2026-01-01T00:00:00+24:00",
        "2026-01-01",
        "2026-01-01T00:00:00ZZ",
        "٢٠٢٦-01-01T00:00:00Z",
        "1066-01-01T00:00:00Z",
        "9999-01-01T00:00:00Z",
        "x" * 60_000,
    ],
)
def test_what_is_no_stamp_is_not_read(text: str) -> None:
    assert one(text)[0] == NOT_READ
    beside = read_stamps(pl.Series(["2026-03-01T18:22:05Z", text, None, "2026-03-01T18:22:05Z"]), NAMED["iso"])[0]
    assert list(beside) == [INSTANT, NOT_READ, NOT_READ, INSTANT]


@settings(max_examples=30, deadline=None)
@given(
    st.lists(
        st.tuples(
            MOMENTS,
            st.sampled_from(["Z", "+01:00", "-07:30", "+00:20"]),
            st.sampled_from(["auto", "milliseconds", "microseconds"]),
        )
    )
)
def test_stamps_agree_with_python_whatever_stands_beside_them(rows: list[tuple[dt.datetime, str, str]]) -> None:
    texts = [moment.isoformat(timespec=timespec) + offset for moment, offset, timespec in rows]
    kinds, us = read_stamps(pl.Series(texts, dtype=pl.String), NAMED["iso"])
    assert list(us) == [to_us(dt.datetime.fromisoformat(text)) for text in texts] and (kinds == INSTANT).all()


@settings(max_examples=30, deadline=None)
@given(
    st.lists(MOMENTS, min_size=1),
    st.sampled_from(
        ["%d/%m/%Y %H:%M:%S", "%b %d %Y %I:%M:%S %p", "%A, %d. %B %y %H.%M.%S", "%Y%m%d%H%M%S", "%m-%d-%y %H:%M:%S"]
    ),
)
def test_strptime_patterns_agree_with_python(moments: list[dt.datetime], pattern: str) -> None:
    moments = [
        m.replace(microsecond=0, day=min(m.day, 28), year=1970 + m.year % 99 if "y" in pattern else m.year)
        for m in moments
    ]
    texts = [m.strftime(pattern) for m in moments]
    kinds, us = read_stamps(pl.Series(texts), time_form(pattern))
    assert list(us) == [(dt.datetime.strptime(text, pattern) - EPOCH) // dt.timedelta(microseconds=1) for text in texts]
    assert (kinds == WALL).all()


def test_shorthands_and_fractions_of_a_pattern_are_read() -> None:
    wanted = (dt.datetime(2026, 3, 1, 18, 22, 5, 120_000) - EPOCH) // dt.timedelta(microseconds=1)
    assert one("2026-03-01  18:22:05.12", time_form("%F %T.%f")) == (WALL, wanted)
    assert one("Sun  1 March 2026 18:22:05,120 GMT", time_form("%a %e %B %Y %T,%f %Z")) == (INSTANT, wanted)
    assert one("03/01/26 18:22 +0000", time_form("%D %R %z")) == (INSTANT, wanted // (60 * SECOND) * 60 * SECOND)
    assert one("1 Mar 18:22", time_form("%d %b %H:%M"))[0] == YEARLESS


@pytest.mark.parametrize(
    ("time", "text", "us"),
    [
        ("epoch", "1772389325.12", 1_772_389_325_120_000),
        ("epoch", "1772389325", 1_772_389_325_000_000),
        ("epoch", "-0.5", -500_000),
        ("epoch", "-1041337172.13", -1_041_337_172_130_000),
        ("epoch-ms", "1772389325120", 1_772_389_325_120_000),
        ("epoch-ms", "1772389325120.25", 1_772_389_325_120_250),
    ],
)
def test_counts_since_1970_are_read_to_the_microsecond(time: str, text: str, us: int) -> None:
    assert one(text, time_form(time)) == (INSTANT, us)


@pytest.mark.parametrize("text", ["99999999999999999", "1e9", "nan", "-", "0x10", "17723893251200000"])
def test_a_count_far_off_is_not_read(text: str) -> None:
    assert one(text, time_form("epoch"))[0] == NOT_READ


@pytest.mark.parametrize("text", ["Oct 11 22:14:15", "Oct  1 22:14:15", "oct 01 22:14:15.5"])
def test_syslog_stamps_have_no_year(text: str) -> None:
    assert one(text, NAMED["syslog"])[0] == YEARLESS


@settings(max_examples=30, deadline=None)
@given(st.lists(MOMENTS, min_size=1))
def test_syslog_stamps_agree_with_python_in_a_leap_year(moments: list[dt.datetime]) -> None:
    texts = [m.strftime("%b %e %H:%M:%S") for m in moments]
    wanted = [
        (dt.datetime.strptime("2000 " + text, "%Y %b %d %H:%M:%S") - EPOCH) // dt.timedelta(microseconds=1)
        for text in texts
    ]
    assert np.array_equal(read_stamps(pl.Series(texts), NAMED["syslog"])[1], wanted)


@pytest.mark.parametrize(
    "pattern", ["%H:%S", "%Y-%m %H:%M", "%d.%m.%Y", "%Q %d %m %H:%M", "%d %d %m %H:%M", "noon", "%m %d %H:%M %"]
)
def test_a_pattern_that_cannot_tell_the_instant_is_refused(pattern: str) -> None:
    with pytest.raises(ValueError, match=r"time pattern|form of time"):
        time_form(pattern)
