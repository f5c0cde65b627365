"""What is said of the repeater's hearing: the first thing that a keeper needs to know, and what to check."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from server.analytics.figure_types import Stretch
from server.analytics.reception import AirOvers, Day, Reception
from server.analytics.reception_changes import Change, Kind, Size
from server.telling.reception import change_words, checks, few, headline, hours_words, standing

DAY = dt.date(2026, 10, 12)
MEASURED = AirOvers(900, 800)
DEAF = Change(DAY, DAY, DAY, Size(-6.1, -6.8, -5.2), None, Kind.DEAF, None, {})
MENDED = Change(dt.date(2026, 10, 24), DAY, DAY, Size(5.8, 5.0, 6.6), None, Kind.BETTER, None, {})
NOISE = Change(DAY, DAY, DAY, None, Size(1.9, 1.6, 2.2), Kind.NOISE, (22, 23, 0), {})


def heard(*changes: Change, overs: AirOvers = MEASURED, readings: int = 500, known: bool = True) -> Reception:
    day = Day(DAY, 0.0, -1.0, 1.0, 0.0, 9) if known else Day(DAY, None, None, None, None, 1)
    window = Stretch(0, 1, ZoneInfo("Europe/London"), 0.0)
    return Reception(window, 12, readings, overs, True, (day,), changes)


def test_the_first_sentence_says_since_when_and_by_how_much() -> None:
    assert headline(heard(DEAF)) == "Since Mon 12 Oct stations have come in 6.1\u00a0dB weaker (5.2 to 6.8)."


def test_a_fault_that_was_mended_is_over() -> None:
    said = "Reception is as usual again since Sat 24 Oct: the level that fell on Mon 12 Oct went back."
    assert headline(heard(DEAF, MENDED)) == said and standing([DEAF, MENDED]) == []


def test_half_a_repair_leaves_the_fault_standing_and_less_than_half_is_a_change_of_its_own() -> None:
    slight = Change(MENDED.day, DAY, DAY, Size(2.0, 1.6, 2.5), None, Kind.BETTER, None, {})
    assert standing([DEAF, slight]) == [slight, DEAF]
    assert headline(heard(DEAF, slight)).startswith("Since Mon 12 Oct")


def test_a_source_of_noise_is_not_over_when_levels_rise() -> None:
    assert standing([NOISE, MENDED]) == [MENDED, NOISE]
    assert headline(heard(NOISE, MENDED)) == (
        "Since Mon 12 Oct bit errors have been 1.9\u00a0points higher (1.6 to 2.2), only between 22:00 and 01:00."
    )


def test_without_a_change_reception_is_as_usual() -> None:
    assert headline(heard()).startswith("Reception is as usual: on no day")


def test_a_silent_receiver_is_not_told_to_be_well() -> None:
    days = tuple(
        Day(DAY + dt.timedelta(days=n), 0.0 if n < 5 else None, None, None, None, 9 if n < 5 else 0) for n in range(20)
    )
    said = headline(replace(heard(), days=days))
    assert said.startswith("Reception is as usual") and said.endswith(
        "as far as it is known: up to Fri 16 Oct. Nothing is known after that: on no later day were three regular"
        " stations heard."
    )


def test_a_reception_that_is_as_usual_again_is_so_up_to_the_last_day_that_is_known() -> None:
    days = tuple(
        Day(DAY + dt.timedelta(days=n), 0.0 if n < 42 else None, None, None, None, 9 if n < 42 else 0)
        for n in range(45)
    )
    assert headline(replace(heard(DEAF, MENDED), days=days)) == (
        "Reception is as usual again since Sat 24 Oct: the level that fell on Mon 12 Oct went back, as far as it is"
        " known: up to Sun 22 Nov."
    )
    assert "as far as" not in headline(replace(heard(DEAF, MENDED), days=days[:42]))


@pytest.mark.parametrize(
    ("found", "why"),
    [
        (heard(overs=AirOvers(0, 0), readings=0), "no over was received by radio in these weeks."),
        (heard(overs=AirOvers(9, 0), readings=0), "your host logs no level and no error rate with its overs."),
        (heard(overs=AirOvers(9, 9), readings=0), "name no station, so nothing can be compared."),
        (heard(known=False), "on no day were three stations heard that are heard again and again (regulars: 12)."),
    ],
)
def test_what_is_not_known_says_why(found: Reception, why: str) -> None:
    said = headline(found)
    assert said.startswith("How well the repeater hears is not known: ") and said.endswith(why)


def test_each_kind_has_its_own_first_checks() -> None:
    assert "Feeder" in checks(DEAF)[0] and any("Water" in one for one in checks(DEAF))
    assert any("preamplifier" in one for one in checks(DEAF)) and any("antenna" in one for one in checks(DEAF))
    assert "runs only then" in checks(NOISE)[0] and any("neighbour" in one for one in checks(NOISE))
    assert "mended" in checks(MENDED)[0]


def test_hours_are_told_by_the_clock() -> None:
    assert hours_words((22, 23, 0)) == "between 22:00 and 01:00" and hours_words((23,)) == "between 23:00 and 00:00"
    assert change_words(NOISE).endswith(", only between 22:00 and 01:00 local time.")


def test_one_to_four_are_no_number() -> None:
    assert [few(n) for n in (0, 1, 4, 5, 1204)] == ["0", "fewer than 5", "fewer than 5", "5", "1,204"]
