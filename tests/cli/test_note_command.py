"""`airtally note`, as a keeper types it."""

from pathlib import Path

import pytest

from tests.cli.test_commands import airtally, hill, read, refused

__all__ = ["hill", "read"]


def listed(folder: Path) -> list[str]:
    return airtally("note", "list", cwd=folder).stdout.splitlines()


def noted(folder: Path, *arguments: str) -> None:
    done = airtally("note", "add", *arguments, cwd=folder)
    assert done.returncode == 0, done.stderr


def test_notes_are_listed_with_the_changes_of_timers_in_order_of_time(read: Path) -> None:
    assert listed(read) == ["There is no note yet: `airtally note add --at T TEXT` keeps one."]
    noted(read, "--at", "2026-11-10T14:00", "--kind", "feeder", "--for-committee", "new feeder,  20 m\n")
    noted(read, "--at", "2026-11-02", "sheep on the access road")
    airtally("timers", "--changed-on", "2026-11-05", "--note", "hold of DMR from 20 s to 10 s", cwd=read)
    assert listed(read) == [
        "        2  2026-11-02 00:00  other: sheep on the access road",
        " timers 1  2026-11-05 00:00  hold of DMR from 20 s to 10 s",
        "        1  2026-11-10 14:00  feeder: new feeder, 20 m (for the committee)",
    ]


def test_a_note_that_is_entered_twice_is_one_and_a_dropped_one_is_gone(read: Path) -> None:
    for _ in range(2):
        noted(read, "--at", "2026-11-10T14:00", "--kind", "host", "a new host")
    assert len(listed(read)) == 1
    assert airtally("note", "drop", "1", cwd=read).stdout == "Note 1 is gone.\n"
    again = airtally("note", "drop", "1", cwd=read)
    assert again.returncode == 1 and "There is no note 1; `airtally note list` lists them" in again.stderr


@pytest.mark.parametrize(
    "arguments, sentence",
    [
        (("--at", "soon", "x"), "'soon' is no date and no date-time"),
        (("--at", "2199-01-01", "x"), "2199-01-01 is still to come: note it once it is done."),
        (("--at", "2026-11-10", " \n "), "TEXT: Say what was done"),
        (("--at", "2026-11-10", "x" * 241), "at most 240 characters"),
        (("--at", "2026-11-10", "--kind", "tower", "x"), "'tower' is not one of"),
        (("--at", "2026-03-29T01:30", "x"), "the clocks go forward over it"),
    ],
)
def test_what_is_no_note_is_refused_with_a_sentence(read: Path, arguments: tuple[str, ...], sentence: str) -> None:
    assert sentence in refused("note", "add", *arguments, cwd=read)


def test_notes_outlive_reading_again_and_stand_in_a_copy(read: Path) -> None:
    noted(read, "--at", "2026-11-10", "--kind", "antenna", "antenna moved")
    assert airtally("ingest", "--again", cwd=read).returncode == 0
    assert airtally("backup", "copy.db", cwd=read).returncode == 0
    assert airtally("note", "drop", "1", cwd=read).returncode == 0 and "antenna moved" not in str(listed(read))
    assert airtally("restore", "copy.db", "--yes", cwd=read).returncode == 0
    assert "antenna: antenna moved" in listed(read)[0]


def test_forget_takes_a_station_out_of_a_note_and_names_the_note(read: Path) -> None:
    noted(read, "--at", "2026-11-10", "--kind", "receiver", "qa1xyz heard noise")
    said = "Note 1 names it: read what is left of it with `airtally note list`, or drop it."
    assert said in airtally("forget", "QA1XYZ", "--dry-run", cwd=read).stdout and "qa1xyz" in listed(read)[0]
    assert said in airtally("forget", "QA1XYZ", "--yes", cwd=read).stdout
    assert listed(read) == ["        1  2026-11-10 00:00  receiver: (erased) heard noise"]
    assert not any(b"qa1xyz heard" in file.read_bytes() for file in read.glob("airtally.db*"))


def test_forget_names_a_note_that_holds_an_id_within_a_word_and_the_station_file(read: Path) -> None:
    noted(read, "--at", "2026-11-10", "--kind", "receiver", "byQA1XYZ, noise")
    station = read / "station.toml"
    assert "station.toml" not in airtally("forget", "QA1XYZ", "--yes", cwd=read).stdout
    station.write_text(station.read_text(encoding="utf-8") + "# a label for qa1xyz\n", encoding="utf-8")
    noted(read, "--at", "2026-11-10", "--kind", "receiver", "QA1XYZs, noise")
    told = airtally("forget", "QA1XYZ", "--yes", cwd=read).stdout
    assert "Note 2 names it" in told and "Note 1" not in told
    assert "Not touched: station.toml; a line of it holds the identity, so change it by hand." in told
    assert [line.split(": ")[1] for line in listed(read)] == ["(erased), noise"] * 2


def test_the_station_file_may_stand_before_or_after_the_name_of_what_is_done(read: Path) -> None:
    (read / "there").mkdir()
    for place in (("note", "--station", "../station.toml", "list"), ("note", "list", "--station", "../station.toml")):
        assert airtally(*place, cwd=read / "there").returncode == 0
