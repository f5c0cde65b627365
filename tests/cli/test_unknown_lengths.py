"""Figures of a log that tells no length, in words."""

import json
from pathlib import Path

import pytest

from shared.zones import SECOND
from tests.alerts.hill import NIGHT, append, line, station_in
from tests.cli.test_commands import airtally


def test_starts_without_ends_are_not_told_as_time_that_nobody_saw(tmp_path: Path) -> None:
    station_in(tmp_path, [])
    append(tmp_path, *(line(NIGHT + n * 600 * SECOND, "over-start", mode="fm", side="air") for n in range(9)))
    assert airtally("ingest", cwd=tmp_path).returncode == 0
    said = airtally("figures", "--from", "2026-11-18", "--to", "2026-11-19", cwd=tmp_path).stdout
    assert "Nothing of this window was seen" not in said
    assert "On the air: not known" in said and "Unfinished overs: 9 (no end in the log)" in said


PAGED = (
    '{"t":"2026-11-16T18:00:00Z","event":"alive"}\n'
    '{"t":"2026-11-16T18:10:00Z","event":"page","mode":"pocsag","bit_rate":1200,"code_words":34}\n'
    '{"t":"2026-11-16T18:20:00Z","event":"page","mode":"pocsag","bit_rate":512,"characters":40}\n'
    '{"t":"2026-11-16T18:30:00Z","event":"page","mode":"pocsag"}\n'
    '{"t":"2026-11-16T18:40:00Z","event":"page","mode":"pocsag","seconds":2,"bit_rate":512,"code_words":40}\n'
    '{"t":"2026-11-16T20:00:00Z","event":"alive"}\n'
)


def test_pages_of_which_bit_rate_and_size_are_logged_are_estimated_apart(tmp_path: Path) -> None:
    # ITU-R M.584-2: three batches at 1,200 bit/s take 1.84 s, one at 512 bit/s 2.1875 s (worked out from its bits).
    (tmp_path / "host.log").write_text(PAGED)
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "UTC"\n[[log]]\npath = "host.log"\n'
    )
    assert airtally("ingest", cwd=tmp_path).returncode == 0
    found = json.loads(airtally("figures", "--week", "2026-W47", "--json", cwd=tmp_path).stdout)
    for part in (found["channel"], found["modes"]["pocsag"]):
        assert (part["pages"], part["airtime_s"]) == (4, 2.0)
        assert (part["pages_estimated"], part["pages_airtime_estimated_s"]) == (2, pytest.approx(1.84 + 2.1875))
