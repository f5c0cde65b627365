"""The Reception page: what it says first, what it draws, and what it says where little is known."""

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from server.analytics.figure_types import Stretch
from server.analytics.reception import AirOvers, Reception
from server.store.notes import Note
from server.telling.caution import WORK
from server.web.frame import Frame
from server.web.reception.charts import DayMark, DayValue, day_chart
from server.web.reception.view import ReceptionView, reception_view
from server.web.shell import Links
from shared.zones import instant
from tests.web.conftest import Opened
from tests.web.reception_fakes import NIGHT, nothing_heard, reception_like
from tests.web.web_fakes import FakeSource, empty_source

ADDRESSES = Links("", {"style.css": "/s", "icon.svg": "/i"})
Heard = Callable[[Stretch], Reception]


def view_of(heard: Heard, year: bool = False, notes: tuple[Note, ...] = ()) -> ReceptionView:
    source = FakeSource(heard=heard, noted=notes)
    upto = instant("2026-11-24", source.place.zone)
    return reception_view(source, upto, year, Frame(ADDRESSES, source.station(), signed_in=False))


def broken(window: Stretch) -> Reception:
    return reception_like(window, "deaf")


def both(window: Stretch) -> Reception:
    return reception_like(window, "deaf", "noise")


def test_a_fault_that_goes_on_comes_first_with_what_to_check_and_the_caution(open_pages: Opened) -> None:
    view = view_of(broken)
    assert view.headline == "Since Sat 24 Oct stations have come in 6.1\u00a0dB weaker (5.2 to 6.8)."
    (change,) = view.changes
    assert (change.number, change.level, change.word, change.stands) == ("1", "look", "Worse", "It lasts.")
    assert change.bounds == "between Fri 23 Oct and Sat 24 Oct" and "Feeder and connectors" in change.checks[0]
    assert view.caution == WORK
    page = open_pages(FakeSource(heard=broken)).get("/reception").text
    assert "6.1\u00a0dB weaker (5.2 to 6.8)" in page and WORK in page and "1▼" in page and "Water in the cable" in page


def test_a_source_of_noise_has_its_hours_drawn_and_a_chart_of_them() -> None:
    view = view_of(both)
    noise, fault = view.changes  # the latest first
    assert noise.hours == tuple(hour in NIGHT for hour in range(24)) and fault.hours == ()
    assert "only between 22:00 and 02:00" in noise.what and "runs only then" in noise.checks[0]
    (part,) = view.parts
    assert part.title == "Bit errors between 22:00 and 02:00"
    assert [flag.label for flag in part.chart.changes] == ["2▼"]
    assert view.level and [flag.label for flag in view.level.changes] == ["1▼"]
    assert "There is 1\u00a0more change for the worse." in view.headline


def test_changes_are_told_by_mode_where_five_stations_tell() -> None:
    (row,) = view_of(both).modes.rows
    assert row.head.text == "1: Sat 24 Oct" and row.cells == ("−6.0 dB", "−6.3 dB")


def test_thirteen_weeks_are_shown_day_by_day_and_a_year_by_week() -> None:
    weeks, year = view_of(both), view_of(both, year=True)
    assert len(weeks.days.rows) == 91 and len(year.days.rows) == 53
    assert weeks.days.rows[0].head.text == "Mon 23 Nov" and weeks.other.href == "/reception/year"
    assert year.other.href == "/reception" and "a year" in year.span
    assert {row.cells[3] for row in weeks.days.rows} == {"14", "fewer than 5"}


@pytest.mark.parametrize(
    ("heard", "says", "step"),
    [
        (nothing_heard, "no over was received by radio", ""),
        (
            lambda window: nothing_heard(window, AirOvers(90, 0)),
            "your host logs no level and no error rate",
            "`rssi_dbm`",
        ),
        (lambda window: nothing_heard(window, AirOvers(90, 90)), "name no station", "log the station of each over"),
        (
            lambda window: nothing_heard(window, AirOvers(90, 90), readings=40, regulars=1),
            "(regulars: fewer than 5)",
            "three stations, each heard on ten days or more",
        ),
    ],
)
def test_where_nothing_is_known_it_says_why_and_what_to_do(heard: Heard, says: str, step: str) -> None:
    view = view_of(heard)
    assert view.headline.startswith("How well the repeater hears is not known: ") and says in view.headline
    assert not view.known and view.level is None and step in " ".join(view.steps) and bool(view.steps) == bool(step)


def test_an_empty_store_says_that_no_log_was_read(open_pages: Opened) -> None:
    page = open_pages(empty_source()).get("/reception").text
    assert "not known" in page and "Nothing has been read yet" in page and '<svg class="map"' not in page


def test_with_error_rates_only_these_are_drawn_and_it_says_so() -> None:
    def errors_only(window: Stretch) -> Reception:
        found = reception_like(window)
        blank = tuple(replace(one, shift_db=None, low_db=None, high_db=None) for one in found.days)
        return replace(found, days=blank, levels=False)

    view = view_of(errors_only)
    assert view.known and view.level is None and view.errors is not None
    assert view.steps[0].startswith("Your host logs no level: only error rates are told")
    assert view.headline.startswith("Reception is as usual")


def test_what_was_done_at_the_station_is_drawn_beside() -> None:
    zone = FakeSource().place.zone
    done = (
        Note(1, instant("2020-01-01", zone), "other", "long ago"),
        Note(2, instant("2026-10-25T11:00", zone), "feeder", "new feeder"),
    )
    view = view_of(broken, notes=done)
    (note,) = view.notes.rows
    assert view.level and [flag.label for flag in view.level.notes] == [note.letter] == ["a"]
    assert view.changes[0].noted == "Noted near that day: a."


def test_a_chart_holds_all_its_days_and_hatches_what_is_not_known() -> None:
    first = dt.date(2026, 1, 1)
    days = [DayValue(first, 0.0, -1.0, 1.0), DayValue(first + dt.timedelta(days=1), None)]
    chart = day_chart(days, "dB", [DayMark(first, "1"), DayMark(dt.date(2025, 1, 1), "0")], [], "says")
    heights = [float(y) for y in re.findall(r"[ V](\d+\.\d)", chart.intervals)]
    assert chart.top <= min(heights) < chart.zero < max(heights) <= chart.bottom
    assert len(chart.changes) == 1 and chart.unknown.count("M") == 1 and chart.unknown.startswith("M188.0")


def test_levels_that_no_receiver_has_are_drawn_at_the_edge() -> None:
    days = [DayValue(dt.date(2026, 1, 1 + n), value, value, value) for n, value in enumerate((1e300, -float("inf"), 2))]
    chart = day_chart(days, "dB", [], [], "says")
    assert len(chart.rules) <= 7 and "inf" not in chart.values + chart.intervals


def test_labels_of_marks_that_lie_close_together_do_not_cover_one_another() -> None:
    first = dt.date(2026, 1, 1)
    days = [DayValue(first + dt.timedelta(days=n), 0.0) for n in range(364)]
    marks = [DayMark(first + dt.timedelta(days=n), label) for n, label in ((90, "2"), (80, "1"), (95, "3"), (300, "4"))]
    chart = day_chart(days, "dB", marks, [], "says")
    assert [flag.label for flag in chart.changes] == ["1", "2", "3", "4"]
    one, two, three, four = (flag.label_y for flag in chart.changes)
    assert two < one == three == four and two > 5


def test_a_chart_of_which_nothing_is_known_is_hatched_whole() -> None:
    days = [DayValue(dt.date(2026, 1, 1) + dt.timedelta(days=n), None) for n in range(91)]
    chart = day_chart(days, "dB", [], [], "says")
    assert chart.values == "" and chart.unknown.count("M") == 1 and len(chart.rules) >= 1
