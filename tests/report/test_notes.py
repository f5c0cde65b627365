"""What the keeper noted for the committee stands with the incidents, and names nobody."""

from pathlib import Path

import pytest

from server.report.privacy import may_be_somebody, without_people
from server.report.sheet import sheet_of
from server.store.notes import add_note, drop_note
from server.store.timers import plain_line
from shared.zones import instant
from tests.report.test_cases import evening, set_cleanly
from tests.report.worlds import world


def test_notes_for_the_committee_are_in_the_report_and_the_others_are_not(tmp_path: Path) -> None:
    source = world(tmp_path, [line for day in range(1, 29) for line in evening(day, "dmr")])
    zone = source.station().zone

    def note(text: str, day: str = "2026-10-12T14:00", **more: bool) -> int:
        return add_note(source._engine, instant(day, zone), "feeder", text, **more).id

    note("new feeder, heard by QA1XYZ and 9990123, *bold* #x", for_committee=True)
    note("kept to ourselves")
    note("another month", "2026-11-01T00:00", for_committee=True)
    month, text = set_cleanly(source, "2026-10")
    flat = " ".join(text.split())
    assert "What was done at the station" in flat and "Mon 12 Oct, 14:00" in flat
    assert "new feeder, heard by a station and a station, *bold* #x" in flat
    assert "kept to ourselves" not in flat and "another month" not in flat
    assert sheet_of(month).notes.rows[0].cells[0] == "feeder"
    for number in (1, 2, 3):
        assert drop_note(source._engine, number)
    assert sheet_of(source.month("2026-10")).notes.rows == ()


def test_words_that_may_be_somebody_are_taken_out_of_a_text_and_the_repeaters_own_call_sign_is_not() -> None:
    told = without_people(
        "QB0BFR moved by QA1XYZ/P, C4FM and D-STAR off; id 9990123, mast 12 m", ("HEATHER",), "QB0BFR"
    )
    assert told == "QB0BFR moved by a station, C4FM and D-STAR off; id a station, mast 12 m"
    assert without_people("with Heather", ("HEATHER",), "QB0BFR") == "with a station"


@pytest.mark.parametrize(
    "name",
    [
        "QAØXYZ",
        "qaøxyz",
        "ID9990123",
        "DMR9990124",
        "byQA1XYZ",
        "QA1XYZs",
        "QA1XYZ's",
        "QA1 XYZ",
        "qa1 xyz",
        "QA1.XYZ",
        "QA 1XYZ",
        "9990 123",
        "999.0123",
        "9-990-123",
        "9,990,123",
        "QA1\u00adXYZ",
        "QA\u200b1XYZ",
        "999\u200d0123",
        "Q\u0410\u0031\u0425YZ",
        "Q\u03911X\u03a5Z",
        "Q\u00c11XYZ",
        "QA\u0301\u0031XYZ",
        "\uff31\uff211XYZ",
        "QA\u22050XYZ",
        "\u0669\u0669\u0669\u0660\u0661\u0662\u0663",
    ],
)  # fmt: skip
def test_a_call_sign_or_an_id_is_found_however_it_is_written(name: str) -> None:
    assert may_be_somebody(name, (), "QB0BFR")
    assert without_people(f"feeder, {name}, mended", (), "QB0BFR") == "feeder, a station, mended"


@pytest.mark.parametrize(
    "text",
    [
        "new feeder, 20 m of half-inch, 435.0 MHz, RG213 and RG58C/U",
        "moved from 430.825 to 438.4250 MHz on 2026-10-12, 2026-10-12 14:00 and 2026-10-12T14:00",
        "12.10.2026, 12-10-2026, 12.10.26, 12/10/2026, 20261012",
        "2x12V, 3x10 m, 20 m² of roof, Ø12 mm, 7/8 inch, M6 bolt, M17 on, C4FM off, Cat5e, RX2 was moved",
        "QB0BFR on TS2 99950, 13.8 V at 10 A, -104 dBm, IP67, North 2, D-STAR B module",
        "the café's naïve: Ёлка, Ωμέγα, 50 Ω; 10 °C, 1,234 overs, 12:30-14:45",
    ],
)
def test_ordinary_words_sizes_and_dates_stay(text: str) -> None:
    assert without_people(text, (), "QB0BFR") == text


def test_what_is_not_seen_is_not_kept_in_a_note_and_parts_no_word() -> None:
    assert plain_line("Q\u200bA1\u00adXYZ\nmended", 40, "") == "QA1XYZ mended"
