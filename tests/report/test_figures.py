"""What the PDF says, pulled back out by two readers, is what `airtally figures --json` says for the month."""

import json
import re
import subprocess
import sys
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import pdfplumber
import pypdf
import pytest

from server.analytics.figure_types import Withheld
from server.report.every_figure import figure_text
from server.report.month import Month
from server.report.privacy import without_small_groups
from server.report.sheet import sheet_of
from server.source import StoreSource
from server.telling.modes import by_airtime
from shared.events import MODE_LABELS
from shared.zones import month_window

ROOT = Path(__file__).parents[2]
READERS = ("pypdf", "pdfplumber")


def words_of(pdf: bytes, reader: str) -> list[str]:
    """All words of a PDF in reading order."""
    if reader == "pypdf":
        return " ".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(pdf)).pages).split()
    with pdfplumber.open(BytesIO(pdf)) as opened:
        return [word["text"] for page in opened.pages for word in page.extract_words()]


def found_after(words: list[str], *names: str) -> list[list[str]]:
    """What follows each place where these words stand in a row."""
    n = len(names)
    return [words[at + n : at + n + 30] for at in range(len(words) - n) if words[at : at + n] == list(names)]


def same(said: list[str], value: Any) -> bool:
    """Whether the words begin with a value of the JSON: numbers to the sixth digit, null as `not known`."""
    if value is None:
        return said[:2] == ["not", "known"]
    if isinstance(value, str):
        return " ".join(said).startswith(value)
    return abs(float(said[0]) - value) <= 5e-7 if re.fullmatch(r"-?[0-9.]+", said[0]) else False


@pytest.fixture(scope="module")
def from_json(october_folder: Path) -> dict[str, Any]:
    """The figures as the command prints them, in a process of its own."""
    command = [
        sys.executable,
        "-m",
        "server.cli",
        "figures",
        "--month",
        "2026-10",
        "--json",
        "--station",
        str(october_folder / "station.toml"),
    ]
    return json.loads(subprocess.run(command, cwd=ROOT, capture_output=True, check=True, text=True).stdout)


@pytest.mark.parametrize("reader", READERS)
def test_every_single_figure_of_the_json_stands_in_the_pdf(
    october_pdf: bytes, from_json: dict[str, Any], reader: str
) -> None:
    words = words_of(october_pdf, reader)
    leaves = {"likely_waiters_estimated": from_json["likely_waiters_estimated"]}
    for part in ("window", "channel", "busy_hour", "talk", "intake"):
        leaves |= {f"{part}.{name}": value for name, value in from_json[part].items()}
    leaves |= {f"duty.{width}.{name}": value for width, its in from_json["duty"].items() for name, value in its.items()}
    assert len(leaves) > 35
    for name, value in leaves.items():
        assert any(same(said, value) for said in found_after(words, name)), (name, value)


@pytest.mark.parametrize("reader", READERS)
def test_every_figure_of_every_mode_stands_in_the_pdf(
    october_pdf: bytes, from_json: dict[str, Any], reader: str
) -> None:
    words = words_of(october_pdf, reader)
    modes = sorted(from_json["modes"].items(), key=lambda item: -item[1]["airtime_s"])
    assert found_after(words, "modes", *(MODE_LABELS[mode] for mode, _ in modes))
    for name in [name for name in modes[0][1] if name not in ("slot_s", "stations")]:
        texts = [
            "has no slots" if name == "both_slots_s" and its["slot_s"] == {} else figure_text(its[name])
            for _, its in modes
        ]
        expected = " ".join(texts).split()
        assert any(said[: len(expected)] == expected for said in found_after(words, name)), name
        for (_, its), text in zip(modes, texts, strict=True):
            assert text == "has no slots" or same(text.split(), its[name])
    for slot in ("1", "2"):
        texts = [figure_text(its["slot_s"][slot]) if its["slot_s"] else "has no slots" for _, its in modes]
        expected = " ".join(texts).split()
        assert any(said[: len(expected)] == expected for said in found_after(words, f"slot_s.{slot}"))


@pytest.mark.parametrize("reader", READERS)
def test_every_pair_of_shut_outs_stands_in_the_pdf(october_pdf: bytes, from_json: dict[str, Any], reader: str) -> None:
    words = words_of(october_pdf, reader)
    assert len(from_json["shut_outs"]) > 5
    for row in from_json["shut_outs"]:
        said = found_after(words, f"{row['held_by']},", row["wanted"])
        assert any(it[0] == f"{row['attempts']}," and same(it[1:], row["mean_wait_s"]) for it in said), row


def test_stations_are_told_exactly_or_in_words(october_pdf: bytes, october_source: StoreSource) -> None:
    words = words_of(october_pdf, "pypdf")
    figures = october_source.figures(*month_window("2026-10", october_source.station().zone))
    hidden = without_small_groups(figures)
    expected = " ".join(figure_text(its.stations) for _, its in by_airtime(hidden)).split()
    assert any(said[: len(expected)] == expected for said in found_after(words, "stations"))


def test_the_first_page_shows_the_same_figures_for_people(october_pdf: bytes, from_json: dict[str, Any]) -> None:
    page = " ".join(pypdf.PdfReader(BytesIO(october_pdf)).pages[0].extract_text().split())
    channel = from_json["channel"]
    assert f"{round(channel['airtime_s'] / 3600)} h" in page
    assert f"{100 * channel['occupancy']:.0f} %" in page
    assert f"{channel['overs']:,}" in page
    assert f"{sum(row['attempts'] for row in from_json['shut_outs'])}" in page
    for mode, its in from_json["modes"].items():
        if its["airtime_s"] >= 180 and (its["stations"] or 0) >= 5:
            assert f"{MODE_LABELS[mode]} {its['airtime_s'] / 3600:.1f} " in page, mode
            assert f" {its['overs']:,} {its['stations']} " in page, mode


def test_the_month_holds_the_figures_of_the_json_but_for_small_groups(
    october: Month, october_source: StoreSource
) -> None:
    figures = october_source.figures(*month_window("2026-10", october.zone))
    assert october.figures == without_small_groups(figures)
    for mode, its in figures.modes.items():
        told = october.figures.modes[mode]
        assert told.stations == (
            Withheld.FEWER if isinstance(its.stations, int) and 0 < its.stations < 5 else its.stations
        )
        assert replace(told, stations=None) == replace(its, stations=None)


def test_the_last_month_of_the_trend_is_the_month_itself(october: Month, october_source: StoreSource) -> None:
    figures = october_source.figures(*month_window("2026-10", october.zone))
    assert october.trend[-1].airtime_s[""] == figures.channel.airtime_s
    assert [one.name for one in october.trend][:2] == ["2025-10", "2025-11"] and len(october.trend) == 13


def test_the_trend_of_a_month_before_is_what_its_own_figures_say(october_source: StoreSource) -> None:
    november = october_source.month("2026-11")
    october = october_source.figures(*month_window("2026-10", november.zone))
    assert november.trend[-2].name == "2026-10"
    assert november.trend[-2].airtime_s["dmr"] == pytest.approx(october.modes["dmr"].airtime_s, abs=1e-6)
    assert november.trend[-2].overs[""] == october.channel.overs


def test_the_map_adds_up_to_the_airtime_of_the_channel(october: Month) -> None:
    # Both in seconds; cells are rounded to a microsecond. Every hour of a day is there once but for the one that the
    # clocks skip in March.
    assert sum(cell for row in october.hours for cell in row if cell is not None) == pytest.approx(
        october.figures.channel.airtime_s, abs=1e-3
    )
    assert len(october.days) == 31


def test_sentences_come_from_figures(october: Month) -> None:
    sheet = sheet_of(october)
    assert "ran for" in sheet.findings[0][-1].text  # the over that ran on leads
    said = next(said for one in sheet.findings if "refused because" in (said := "".join(piece.text for piece in one)))
    assert str(october.figures.attempts_shut_out) in said
