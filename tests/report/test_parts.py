"""The parts of a month that the report works out itself: links, seen time, advice, months before."""

from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import sqlalchemy as sa

from server.alerts.repository import BEGAN
from server.analytics.replay_result import replay_result
from server.analytics.shorter_hold import GAPS_ENOUGH, SHUT_OUTS_ENOUGH, evenings
from server.report.choice import advice, no_advice
from server.report.month import Incident, Month, month_after, months_before
from server.report.sheet import sheet_of
from server.source import StoreSource
from server.store import schema
from server.telling.glossary import GLOSSARY
from server.telling.sentences import text_of
from server.web.definitions import ANCHORS, definitions_file, render
from shared.zones import DAY, HOUR, SECOND, iso, month_window
from tests.figures_like import changed
from tests.report.still import still_month
from tests.report.worlds import Line, alive, london, over, sorted_by_time, world

LONDON = ZoneInfo("Europe/London")
MINUTE = 60 * SECOND


def busy_evenings(days: int) -> list[Line]:
    """Each evening, every two minutes from 19:00 to 21:00, a talk of three D-STAR overs of 5 s with pauses of 2 s; once
    an evening a C4FM caller who calls 10 s after one has ended, within its hold of 20 s.
    """
    lines: list[Line] = []
    for day in range(1, days + 1):
        start = london(f"2026-10-{day:02d}T19:00")
        for talk in range(60):
            first = start + talk * 120 * SECOND
            lines += [over(first + n * 7 * SECOND, 5.0, "dstar", f"QA{1 + n % 2}XYZ", target="BFR A") for n in range(3)]
        lines.append(
            {
                "t": iso(start + 29 * SECOND),
                "event": "refused",
                "mode": "c4fm",
                "station": "QC1AAC",
                "reason": "other-mode",
            }
        )
    return lines


@pytest.fixture(scope="module")
def busy(tmp_path_factory: pytest.TempPathFactory) -> StoreSource:
    lines = sorted_by_time(busy_evenings(31), alive(london("2026-10-01"), london("2026-11-02")))
    return world(tmp_path_factory.mktemp("busy"), lines)


def test_a_shorter_hold_is_advised_with_figures_that_the_definitions_give(busy: StoreSource) -> None:
    month = busy.month("2026-10")
    it = month.shorter_hold
    assert it is not None and (it.wanted, it.held_by, it.hold_s, it.shorter_s) == ("c4fm", "dstar", 20.0, 3.0)
    assert (it.shut_outs, it.spared, it.open_gaps, it.break_ins) == (31, 31, 0.0, 0)  # every pause is of 2 s
    # Worked out: of an evening of 5 h D-STAR holds 60 talks of 19 s, each with its hold.
    assert it.risk == pytest.approx(60 * (19 + 20) / 18_000, abs=1e-9)
    assert it.risk_then == pytest.approx(60 * (19 + 3) / 18_000, abs=1e-9)
    said = " ".join(text_of(one) for one in advice(month)).replace("\u00a0", " ")
    assert (
        "Try a hold of 3 s instead of 20 s for D-STAR. C4FM callers found the repeater held 13 % of evening time"
        in said
    )
    assert "it would have been 7.3 %" in said and "31 calls of theirs would have got through" in said


def test_the_advice_agrees_with_the_replay_of_the_same_month(busy: StoreSource) -> None:
    month = busy.month("2026-10")
    window = month_window("2026-10", LONDON)
    replayed = replay_result(busy.activity(*window), window, month.timers, LONDON, {"dstar": 3.0}).compared
    assert replayed is not None and month.shorter_hold is not None
    assert replayed.now.shut_outs - replayed.then.shut_outs == month.shorter_hold.spared
    assert replayed.then.break_ins == month.shorter_hold.break_ins


def test_thin_data_gives_no_advice(tmp_path: Path) -> None:
    days = SHUT_OUTS_ENOUGH - 1
    lines = sorted_by_time(busy_evenings(days), alive(london("2026-10-01"), london("2026-11-02")))
    month = world(tmp_path, lines).month("2026-10")
    assert month.shorter_hold is None and days * 120 > GAPS_ENOUGH  # one call too few, whatever else is plenty
    assert not any("hold" in text_of(one) for one in advice(month))


def test_a_month_of_which_little_was_seen_gives_no_advice_whatever_its_figures() -> None:
    whole = still_month()
    assert len(advice(whole)) >= 5
    thin = replace(whole, completeness=replace(whole.completeness, seen=0.49))
    assert advice(thin) == () and no_advice(thin).startswith("Too little")


def test_a_quiet_month_needs_no_change() -> None:
    month = still_month()
    calm = changed(
        month.figures,
        modes={"dmr": replace(month.figures.modes["dmr"], timeouts=0)},
        talk={"short_gap_share": 0.1, "local_on_wide": 0, "local_on_wide_s": 0.0},
    )
    quiet = replace(month, figures=calm, shorter_hold=None, links=(), duty_rating=1.0)
    assert advice(quiet) == () and no_advice(quiet) == "Nothing in the month’s figures calls for a change."


def test_every_recommendation_has_a_figure_in_it(busy: StoreSource) -> None:
    for month in (still_month(), busy.month("2026-10")):
        for one in advice(month):
            assert any(letter.isdigit() for letter in text_of(one)) and any(piece.figure for piece in one)


def test_evenings_are_five_hours_also_when_the_clocks_change() -> None:
    for name in ("2026-10", "2026-03"):
        assert {int(length) for length in np.diff(evenings(month_window(name, LONDON), LONDON))[:, 0]} == {5 * HOUR}


def test_every_term_of_the_glossary_and_every_label_has_its_definition() -> None:
    anchors = render(definitions_file().read_text(encoding="utf-8")).anchors
    assert all(ANCHORS[term.figure] in anchors for term in GLOSSARY)
    sheet = sheet_of(still_month())
    labels = [fact.label for fact in (*sheet.key, *sheet.busy, *sheet.talk, *sheet.log)]
    for table in (sheet.modes, sheet.shut_outs, sheet.risks, sheet.timeouts, sheet.wide, sheet.links, sheet.duty):
        labels += table.head
    assert all(ANCHORS[label.figure] in anchors for label in labels if label.figure)


def test_months_before_and_after_go_over_new_years() -> None:
    assert months_before("2026-02", 3) == ["2026-01", "2025-12", "2025-11"] and month_after("2025-12") == "2026-01"


def test_a_month_that_is_not_over_is_not_compared(busy: StoreSource) -> None:
    now = london("2026-10-20")
    lines = sorted_by_time(busy_evenings(19), alive(london("2026-10-01"), now))
    folder = busy._station.folder / "running"
    month: Month = world(folder, lines, now=now).month("2026-10")
    sheet = sheet_of(month)
    assert "so far" in text_of(sheet.headline) and "compared when the month is over" in text_of(sheet.headline)
    assert any("not over" in said for said in sheet.completeness)
    assert not month.completeness.over and month.end - now > 10 * DAY


def test_incidents_that_nobody_watched_are_found_in_the_log_and_kept_until_the_store_grows(busy: StoreSource) -> None:
    stuck = {
        "t": iso(london("2026-10-12T03:00")),
        "event": "over-start",
        "mode": "dstar",
        "side": "air",
        "station": "QA1XYZ",
    }
    end = {"t": iso(london("2026-10-12T05:00")), "event": "over-end", "mode": "dstar", "side": "air"}
    lines = sorted_by_time([stuck, end], alive(london("2026-10-01"), london("2026-11-02")))
    source = world(busy._station.folder / "stuck", lines)
    first = source.month("2026-10")
    (over_runs_on,) = [one for one in first.incidents if one.rule == "over-runs-on"]
    assert not first.watched and over_runs_on.cleared == london("2026-10-12T05:00") and over_runs_on.urgent
    assert source.month("2026-10").incidents == first.incidents
    assert "afterwards" in sheet_of(first).incidents.caption and "raised" in sheet_of(still_month()).incidents.caption
    with source._engine.begin() as connection:
        kept = connection.execute(
            sa.select(schema.fact.c.value).where(schema.fact.c.name.like("report.incidents%"))
        ).scalar_one()
        assert "QA1XYZ" not in kept
        connection.execute(sa.insert(schema.fact).values(name=BEGAN, value=str(first.start)))
    assert (
        source.month("2026-10").incidents == () and source.month("2026-10").watched
    )  # the watch has nothing on record


def test_an_incident_of_the_rating_says_so_and_no_row_has_a_mere_dash() -> None:
    incidents = tuple(
        Incident(rule, subject, still_month().start + n * DAY, still_month().start + n * DAY + HOUR, False)
        for n, (rule, subject) in enumerate(
            [("duty", "transmitter/rating"), ("duty", "transmitter"), ("link-down", ""), ("over-runs-on", "dmr/2")]
        )
    )
    rows = sheet_of(replace(still_month(), incidents=incidents)).incidents.rows
    assert [(row.head.text, row.cells[0]) for row in rows] == [
        ("The transmitter is keyed beyond its "
            "rating", "transmitter"), ("The transmitter is keyed too much", "transmitter"),
        ("A link is down", "a name kept back"), ("An over runs on", "DMR, slot 2"),
    ]  # fmt: skip
