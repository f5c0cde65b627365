"""The users' sheet: what it says, that it names nobody, and the paper."""

import json
from dataclasses import asdict, replace
from io import BytesIO

import numpy as np
import pdfplumber

from server.analytics.free_time import FreeTime
from server.report.handout import handout
from server.report.pdf import handout_pdf
from server.telling.targets import Reach
from shared.events import MODES
from shared.timers import Timers
from tests.report.still import still_figures

TIMERS = Timers(180.0, (20.0,) * 9, (0.0,) * 9, 1.0)
REACHES = (Reach("dmr", "Brackenfell chat", "local"), Reach(None, "All <fells> #let x = 1", "wide"))
DMR, DSTAR, POCSAG = (MODES.index(mode) for mode in ("dmr", "dstar", "pocsag"))


def shares(free: float, worst: float) -> FreeTime:
    by_hour = np.full((7, 24), free)
    by_hour[3, 20], by_hour[0, 0] = worst, np.nan
    return FreeTime(free, by_hour)


def sheet_of(free: dict[int, FreeTime], timers: Timers = TIMERS):  # type: ignore[no-untyped-def]
    return handout("QB0BFR Brackenfell", still_figures(1.0), free, timers, REACHES)


def test_the_sheet_says_when_each_mode_finds_the_repeater_free() -> None:
    sheet = sheet_of({DMR: shares(0.92, 0.17), DSTAR: shares(0.87, 0.12), POCSAG: shares(0.5, 0.1)})
    assert sheet.headline == (
        "The repeater is free between 87\u00a0% (D-STAR) and 92\u00a0% (DMR) of the time, depending on your mode."
    )
    assert {mode.mode for mode in sheet.free} == {"dmr", "dstar"}  # nobody calls in POCSAG
    dmr = next(mode for mode in sheet.free if mode.mode == "dmr")
    assert dmr.free == "Free 92\u00a0% of the time; least on Thursdays, 20:00 to 21:00: 17\u00a0%."
    assert dmr.map is not None and dmr.map.cells[0][0] is None and dmr.map.numbers[3][20] == "17"


def test_the_last_hour_of_a_day_ends_at_midnight() -> None:
    by_hour = np.full((7, 24), 1.0)
    by_hour[6, 23] = 0.5
    (mode,) = sheet_of({DMR: FreeTime(0.99, by_hour)}).free
    assert "Sundays, 23:00 to 00:00" in mode.free


def test_a_mode_that_is_always_free_has_no_hardest_hour() -> None:
    (mode,) = sheet_of({DMR: FreeTime(1.0, np.ones((7, 24)))}).free
    assert mode.free == "Free 100\u00a0% of the time."


def test_what_was_not_seen_is_said_and_not_drawn() -> None:
    (mode,) = sheet_of({DMR: FreeTime(0.9, np.full((7, 24), np.nan))}).free
    assert mode.map is None and "too little was seen" in mode.free
    assert "does not show" in sheet_of({}).headline


def test_the_paper_is_one_page_without_names_and_takes_text_as_text() -> None:
    every = {mode: shares(0.9, 0.2) for mode in range(len(MODES))}
    for paper in ("a4", "letter"):
        with pdfplumber.open(BytesIO(handout_pdf(sheet_of(every), paper))) as pdf:  # type: ignore[arg-type]
            text = "\n".join(page.extract_text() for page in pdf.pages)
            assert len(pdf.pages) == 1, paper
        assert "All <fells> #let x = 1" in text
        for word in ("Time-out 3 min", "at least 1 s", "far beyond the region", "How long it stays with a mode"):
            assert word in text.replace("\u00a0", " "), word
    assert "QA1" not in json.dumps(asdict(sheet_of(every)), default=sorted)


def test_modes_that_find_it_free_alike_are_told_by_one_number() -> None:
    sheet = sheet_of({DMR: FreeTime(0.9912, np.ones((7, 24))), DSTAR: FreeTime(0.9921, np.ones((7, 24)))})
    assert sheet.headline == "The repeater is free 99\u00a0% of the time."


def test_a_sheet_of_days_that_were_hardly_logged_says_so() -> None:
    figures = still_figures(1.0)
    window = replace(figures.window, blind_s=0.75 * figures.window.seconds)
    sheet = handout("QB0BFR", replace(figures, window=window), {DMR: shares(0.9, 0.5)}, TIMERS, REACHES)
    assert sheet.period.endswith("; 25\u00a0% of that time was logged")
    assert "logged" not in sheet_of({DMR: shares(0.9, 0.5)}).period
