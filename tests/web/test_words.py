"""Figures in words. Nothing outside the project fixes these wordings; weeks are checked against ISO 8601 (from memory)
as pandas has it.
"""

import datetime as dt
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.telling import words
from server.telling.moments import clock, instant_words, stretch_words
from server.telling.outside import visible
from server.web.weeks import Week, last_whole_week, week_of
from shared.zones import SECOND, instant, week_window

LONDON = ZoneInfo("Europe/London")


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (None, "not known"),
        (0, "0 s"),
        (1.37, "1.4 s"),
        (42.4, "42 s"),
        (59.7, "1 min"),
        (61, "1 min 1 s"),
        (120, "2 min"),
        (2_910, "48 min"),
        (3_599, "1 h"),
        (3_661, "1 h 1 min"),
        (52_150, "14 h 29 min"),
        (604_800, "168 h"),
        (7_200_000, "2,000 h"),
    ],
)
def test_a_duration_is_said_in_the_units_that_matter(seconds: float | None, said: str) -> None:
    assert words.duration(seconds).replace(words.GAP, " ") == said


@given(st.floats(0, 1e7))
def test_a_duration_said_is_within_a_twentieth_of_the_true_one_and_never_has_sixty_of_anything(seconds: float) -> None:
    units = {"s": 1, "min": 60, "h": 3600}
    text = words.duration(seconds).replace(words.GAP, " ").replace(",", "").split(" ")
    pairs = [(float(n), unit) for n, unit in zip(text[::2], text[1::2], strict=True)]
    assert abs(sum(n * units[unit] for n, unit in pairs) - seconds) <= max(0.06, 0.05 * seconds)
    assert all(n < 60 for n, unit in pairs if unit != "h")


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (None, "not known"),
        (0, "0 %"),
        (0.0004, "under 0.1 %"),
        (0.0184, "1.8 %"),
        (0.0996, "10 %"),
        (0.1841, "18 %"),
        (0.997, "over 99 %"),
        (1, "100 %"),
    ],
)
def test_a_share_is_said_in_percent_and_only_a_whole_one_is_a_hundred(share: float | None, said: str) -> None:
    assert words.percent(share).replace(words.GAP, " ") == said


@pytest.mark.parametrize(
    ("now", "usual", "said"),
    [
        (5, None, "nothing yet to compare with"),
        (0, 0, "none, as usual"),
        (5, 0, "some, though there usually is none"),
        (0, 5, "none, though there usually is some"),
        (103, 100, "about as usual"),
        (150, 100, "up by half"),
        (75, 100, "down by a quarter"),
        (133, 100, "up by a third"),
        (205, 100, "twice the usual"),
        (340, 100, "3.4 times the usual"),
        (5, 100, "almost none"),
    ],
)
def test_a_change_is_said_in_words(now: float, usual: float | None, said: str) -> None:
    assert words.change(now, usual) == said


@given(st.floats(0.001, 1e6), st.floats(0.001, 1e6))
def test_what_grew_is_never_said_to_be_down_nor_the_other_way_round(now: float, usual: float) -> None:
    said = words.change(now, usual)
    assert not (now > usual and said.startswith(("down", "none", "almost")))
    assert not (now < usual and (said.startswith(("up", "new", "twice", "over")) or "times" in said))


def test_controls_and_direction_marks_of_a_line_are_spelt_out() -> None:
    pieces = visible("a\0b\u202egnp\x1b[31m\u200b")
    assert [piece.text for piece in pieces] == ["a", "NUL", "b", "U+202E", "gnp", "ESC", "[31m", "U+200B"]
    assert [piece.mark for piece in pieces] == [False, True] * 4


@given(st.text(max_size=400))
def test_no_text_leaves_a_character_that_acts_or_hides(text: str) -> None:
    # Unicode's general categories C* (control, format, surrogate, unassigned) as Python's own tables have them.
    shown = "".join(piece.text for piece in visible(text))
    assert all(character.isprintable() or character == "\xa0" or character.isspace() for character in shown)
    assert not set(shown) & set("\0\x1b\r\n\t\u202a\u202e\u2066\u2028\ufeff")


def test_a_character_repeated_a_thousand_times_is_spelt_once() -> None:
    assert [piece.text for piece in visible("z" + "\u0301" * 1000, limit=500)] == [
        "z",
        "U+0301 × 499",
        "… 501 more characters",
    ]


@given(st.dates(dt.date(1981, 1, 1), dt.date(2100, 1, 1)))
def test_a_week_is_the_iso_8601_week_of_its_days(day: dt.date) -> None:
    # ISO 8601 (from memory) as pandas implements it.
    week = week_of(instant(f"{day}T12:00", LONDON), LONDON)
    year, number, _ = pd.Timestamp(day).isocalendar()
    assert week.name == f"{year}-W{number:02d}"
    assert (week.start_us, week.end_us) == week_window(week.name, LONDON)
    assert day in week.days


def test_the_week_of_a_clock_change_lasts_an_hour_more() -> None:
    # Europe/London leaves summer time on 2026-10-25 at 01:00 UTC (IANA tz database).
    week = Week(dt.date(2026, 10, 19), LONDON)
    assert (week.end_us - week.start_us) / 3.6e9 == 169


@pytest.mark.parametrize(
    ("monday", "said"),
    [
        (dt.date(2026, 11, 16), "16 to 22 November 2026"),
        (dt.date(2026, 10, 26), "26 October to 1 November 2026"),
        (dt.date(2026, 12, 28), "28 December 2026 to 3 January 2027"),
    ],
)
def test_the_dates_of_a_week_name_month_and_year_where_they_differ(monday: dt.date, said: str) -> None:
    assert Week(monday, LONDON).dates == said


def test_the_first_week_shown_is_the_last_whole_one_with_data() -> None:
    now = instant("2026-11-24T21:40", LONDON)
    assert last_whole_week(now, now, LONDON).name == "2026-W47"
    assert last_whole_week(instant("2026-11-02", LONDON), now, LONDON).name == "2026-W45"


def test_the_hour_that_comes_twice_is_told_apart() -> None:
    # 2026-10-25 01:30 local is 00:30Z, then 01:30Z (IANA tz database).
    first, second = instant("2026-10-25T00:30+00:00", LONDON), instant("2026-10-25T01:30+00:00", LONDON)
    assert instant_words(first, LONDON) == "Sun 25 Oct, 01:30 BST"
    assert instant_words(second, LONDON) == "Sun 25 Oct, 01:30 GMT"
    assert clock(dt.datetime(2026, 11, 1, 9, 5, tzinfo=LONDON)) == "09:05"


def test_a_stretch_over_midnight_names_both_days() -> None:
    start = instant("2026-11-18T23:40+00:00", LONDON)
    assert stretch_words(start, start + 1800 * SECOND, LONDON) == "Wed 18 Nov, 23:40 to Thu 19 Nov, 00:10"


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (None, "not known"), (0.0, "0.0 %"), (0.0003, "under 0.1 %"), (0.99449, "99.4 %"), (0.9957, "99.6 %"),
        (0.998933, "99.9 %"), (0.99949, "99.9 %"), (0.99999, "99.9 %"), (1.0, "100 %"),
    ],
)  # fmt: skip
def test_a_share_near_to_whole_is_rounded_and_never_whole_where_something_is_missing(
    share: float | None, said: str
) -> None:
    assert words.fine_percent(share).replace(words.GAP, " ") == said
