"""The big log for measuring intake holds what its writer says."""

from pathlib import Path

import polars as pl
import pytest

from parsers.dialect import find_dialect
from parsers.reading import Carry
from server.intake.pairing import nothing_open, pair
from shared.events import IGNORED, UNREAD
from tests.benchmarks.biglog import write_biglog


def test_a_big_log_reads_as_its_writer_says(tmp_path: Path) -> None:
    told = write_biglog(tmp_path / "big.log", 30_000)
    data = (tmp_path / "big.log").read_bytes()
    lines = pl.Series(data.decode().splitlines())
    read = find_dialect("brackenfell-a", tmp_path).read(lines, Carry(), 0)
    assert len(lines) == told.lines == 30_000
    assert 95 < len(data) / len(lines) < 115
    assert (read.verdicts == IGNORED).sum() == told.ignored == pytest.approx(9000, rel=0.05)
    assert (read.verdicts == UNREAD).sum() == told.unread == pytest.approx(150, rel=0.3)
    assert (read.stamps[1:] >= read.stamps[:-1]).all()
    overs = pair(nothing_open(), read.events).overs
    assert overs["end"].null_count() == 0
    assert len(overs) == told.overs == pytest.approx(9000, rel=0.05)
    airtime = overs.group_by(pl.col("mode").cast(pl.String)).agg((pl.col("end") - pl.col("start")).sum() / 1e6)
    assert dict(airtime.iter_rows()) == pytest.approx(told.airtime_s, abs=1e-6)


def test_the_same_seed_writes_the_same_big_log_and_blocks_join(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_biglog(tmp_path / "a.log", 5000)
    write_biglog(tmp_path / "b.log", 5000)
    assert (tmp_path / "a.log").read_bytes() == (tmp_path / "b.log").read_bytes()
    monkeypatch.setattr("tests.benchmarks.biglog.BLOCK_LINES", 700)
    told = write_biglog(tmp_path / "c.log", 5000)
    lines = (tmp_path / "c.log").read_text().splitlines()
    assert len(lines) == told.lines == 5000
