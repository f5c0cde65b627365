"""What the keeper noted for the committee stands with the incidents, and names nobody."""

from pathlib import Path

from server.report.privacy import without_people
from server.report.sheet import sheet_of
from server.store.notes import add_note, drop_note
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
