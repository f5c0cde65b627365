"""What a month says of overs that ran on, and of overs of which nobody knows how long they were."""

import datetime as dt
from pathlib import Path

import pytest

from server.report.choice import advice, advice_caution, findings, headline
from server.report.month import Month
from server.report.pdf import pdf_of
from server.telling.caution import CAUTION
from server.telling.sentences import text_of
from shared.zones import DAY, HOUR, SECOND, iso
from tests.report.test_cases import text_of_pdf
from tests.report.worlds import Line, alive, crowd, london, over, sorted_by_time, world

STUCK = london("2026-10-12T18:19")


def said_of(month: Month) -> list[str]:
    return [text_of(one).replace("\u00a0", " ") for one in findings(month)]


def starts(count: int, step_s: int = 3600) -> list[Line]:
    first = london("2026-10-05")
    return [{"t": iso(first + n * step_s * SECOND), "event": "over-start", "mode": "fm"} for n in range(count)]


@pytest.fixture(scope="module")
def stuck(tmp_path_factory: pytest.TempPathFactory) -> Month:
    start, end = london("2026-10-01"), london("2026-11-02")
    lines = sorted_by_time(alive(start, end), crowd(start, end, 400), [over(STUCK, 9600.0, "dstar", "QA1XDZ")])
    return world(tmp_path_factory.mktemp("stuck"), lines).month("2026-10")


def test_what_stands_out_leads_with_the_over_that_ran_on(stuck: Month) -> None:
    assert said_of(stuck)[0] == (
        "One D-STAR over ran for 2 h 40 min, from Mon 12 Oct, 18:19, far beyond the time-out of 3 min: a stuck "
        "transmitter, interference that keyed it, or a timer that does not work."
    )


def test_the_over_that_ran_on_is_advised_of_with_the_caution(stuck: Month) -> None:
    assert "D-STAR over of 2 h 40 min that began Mon 12 Oct, 18:19" in text_of(advice(stuck)[0]).replace("\u00a0", " ")
    assert CAUTION in advice_caution(stuck)


def test_the_pdf_says_it_on_its_first_page(stuck: Month) -> None:
    text = text_of_pdf(pdf_of(stuck))
    assert text.index("One D-STAR over ran for 2 h 40 min") < text.index("Recommendations")


def test_it_is_advised_of_though_little_else_is_known_of_the_month(tmp_path: Path) -> None:
    lines = sorted_by_time(alive(STUCK - HOUR, STUCK + DAY), [over(STUCK, 9600.0, "dstar", "QA1XDZ")])
    month = world(tmp_path, lines).month("2026-10")
    assert len(advice(month)) == 1 and "2 h 40 min" in text_of(advice(month)[0]).replace("\u00a0", " ")


def test_an_over_that_ran_on_and_has_no_end_is_told_without_a_length(tmp_path: Path) -> None:
    opened: Line = {"t": iso(STUCK), "event": "over-start", "mode": "dstar"}
    again: Line = {"t": iso(STUCK + 3 * HOUR), "event": "host-start"}
    month = world(tmp_path, sorted_by_time(alive(STUCK - DAY, STUCK + DAY), [opened, again])).month("2026-10")
    assert said_of(month)[0] == (
        "An over that ran on beyond the time-out has no end in the log (begun Mon 12 Oct, 18:19, D-STAR): either the "
        "transmitter was stuck, or the line of its end is missing."
    )
    assert "stuck, as the end is not logged" in text_of(advice(month)[0])


def test_overs_without_an_end_are_not_nobody_on_the_air(tmp_path: Path) -> None:
    month = world(tmp_path, sorted_by_time(starts(240), alive(london("2026-10-01"), london("2026-11-02")))).month(
        "2026-10"
    )
    said = text_of(headline(month)).replace("\u00a0", " ")
    assert "is not known: the log tells of 240 overs without an end in the log" in said
    assert not any("none came near" in one for one in said_of(month))


def test_what_has_not_happened_yet_is_not_blind_time(tmp_path: Path) -> None:
    start, now = london("2026-10-01"), london("2026-10-11")
    lines = sorted_by_time(alive(start, now), crowd(start, now, 100))
    month = world(tmp_path, lines, now=now).month("2026-10")
    assert month.figures.window.blind_s < 3600 and month.completeness.seen > 0.99


def test_none_came_near_is_said_as_far_as_the_log_was_seen(tmp_path: Path) -> None:
    start = london("2026-10-01")
    lines = sorted_by_time(alive(start, start + 10 * DAY), crowd(start, start + 10 * DAY, 100))
    month = world(tmp_path, lines).month("2026-10")
    assert any(one.endswith("none came near, as far as the log was seen.") for one in said_of(month))


def test_nothing_happened_most_often_where_two_did_alike(tmp_path: Path) -> None:
    start = london("2026-10-01")
    refused: list[Line] = []
    for n, (held, wanted) in enumerate((("dstar", "fm"), ("fm", "dmr"), ("dmr", "dstar"))):
        at = start + n * HOUR
        refused += [
            over(at, 20.0, held),
            {"t": iso(at + 5 * SECOND), "event": "refused", "mode": wanted, "reason": "other-mode"},
        ]
    month = world(tmp_path, sorted_by_time(alive(start, start + 31 * DAY), refused)).month("2026-10")
    (told,) = [one for one in said_of(month) if "refused" in one]
    assert told == "3 calls were refused because another mode held the repeater."


def test_the_month_of_the_simulated_stuck_night_names_it(october: Month) -> None:
    assert dt.date(2026, 10, 1) in october.days
    assert [one.seconds is not None for one in october.overruns] == sorted(
        (one.seconds is not None for one in october.overruns), reverse=True
    )
