"""Figures of a log that tells no length, in words."""

from pathlib import Path

from shared.zones import SECOND
from tests.alerts.hill import NIGHT, append, line, station_in
from tests.cli.test_commands import airtally


def test_starts_without_ends_are_not_told_as_time_that_nobody_saw(tmp_path: Path) -> None:
    station_in(tmp_path, [])
    append(tmp_path, *(line(NIGHT + n * 600 * SECOND, "over-start", mode="fm", side="air") for n in range(9)))
    assert airtally("ingest", cwd=tmp_path).returncode == 0
    said = airtally("figures", "--from", "2026-11-18", "--to", "2026-11-19", cwd=tmp_path).stdout
    assert "Nothing of this window was seen" not in said
    assert "How long the repeater was on the air is not known" in said and "0 overs by" in said
