"""The notebook of the documents runs, and its numbers are those of the pages and of `figures`."""

import datetime as dt
import os
from pathlib import Path
from typing import Any

import nbformat
import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from server.cli import cli
from server.config import load_station
from server.demo.write import write_demo
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store.engine import close_stores, open_store
from shared.zones import week_window

NOTEBOOK = Path(__file__).parents[1] / "docs" / "notebook.ipynb"


def run(folder: Path) -> dict[str, Any]:
    """What the cells leave behind, run one after another in a folder."""
    book = nbformat.read(NOTEBOOK, as_version=4)
    nbformat.validate(book)
    left: dict[str, Any] = {}
    there = Path.cwd()
    os.chdir(folder)
    try:
        for cell in book.cells:
            if cell.cell_type == "code":
                exec(compile(cell.source, f"{NOTEBOOK.name} {cell.id}", "exec"), left)
    finally:
        os.chdir(there)
    return left


@pytest.mark.parametrize("first_day, week", [("2026-11-16", "2026-W47"), ("2026-10-19", "2026-W43")])
def test_the_notebook_draws_the_map_of_the_week_page_from_the_file(tmp_path: Path, first_day: str, week: str) -> None:
    write_demo(tmp_path, weeks=1, first_day=dt.date.fromisoformat(first_day))
    station = load_station(tmp_path / "station.toml")
    Intake(open_store(station.store_url()), station).catch_up()
    told = next(
        cell.source for cell in nbformat.read(NOTEBOOK, as_version=4).cells if "airtally figures" in cell.source
    )
    command = next(line for line in told.splitlines() if line.startswith("airtally figures")).split()[1:]
    asked = [week if word == "2026-W47" else word for word in command]
    asked[-1] = str(tmp_path / asked[-1])
    done = CliRunner().invoke(cli, [*asked, "--station", str(tmp_path / "station.toml")], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    source, window = StoreSource(open_store(station.store_url()), station), week_window(week, station.zone)
    page, figures = source.day_hour_map(*window), source.figures(*window)
    close_stores()
    left = run(tmp_path)
    assert left["minutes"].shape == (7, 24)  # the hour of the clock change that comes twice is one cell
    drawn = np.array(left["figure"].data[0].z, dtype=float) * 60
    assert np.array_equal(drawn, left["minutes"].to_numpy(dtype=float) * 60, equal_nan=True)
    known = ~np.isnan(drawn)
    assert known.mean() > 0.95 and np.allclose(drawn[known], page[known])
    assert not np.nan_to_num(page[~known]).any()  # not seen, or nothing but what has no end
    assert left["figure"].data[0].type == "heatmap"
    airtime = {mode: (its.airtime_s or 0) / 3600 for mode, its in figures.modes.items()}
    pd.testing.assert_series_equal(left["airtime"].sort_index(), pd.Series(airtime).sort_index(), check_names=False)
