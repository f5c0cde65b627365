"""The annex of exposure: only where the settings ask for it, and below what it is not."""

from dataclasses import replace
from pathlib import Path

import pytest

from server.config import load_station
from server.report.annex import annex_of
from server.report.pdf import Paper, pdf_of
from server.report.sheet import sheet_of
from server.source import StoreSource
from server.store.engine import open_store
from server.telling.caution import SCREENING
from tests.report.still import still_month
from tests.report.test_cases import evening, text_of_pdf
from tests.report.worlds import LATER, world

ANNEX = "Annex: exposure, a first look"
SET = "power_w = 25\nfeeder_loss_db = 2\nantenna_gain_dbi = 8.15\nfrequency_mhz = 435\n"


def asking_for_it(folder: Path, settings: str) -> StoreSource:
    world(folder, evening(1, "dmr"))
    path = folder / "station.toml"
    transmitter = path.read_text().replace("[transmitter]\n", f"[transmitter]\n{settings}")
    path.write_text(transmitter + "\n[report]\nexposure = true\n")
    station = load_station(path)
    return StoreSource(open_store(station.store_url()), station, LATER)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_annex_is_a_page_of_its_own_that_begins_with_what_it_is_not(paper: Paper) -> None:
    text = text_of_pdf(pdf_of(still_month(), paper), paper, most=5)
    annex = text[text.index(ANNEX) :]
    assert annex.index(SCREENING.partition(".")[0]) < annex.index("Distance at full duty")
    # d = √(EIRP / (4πL)): √(103.024 / (4π × 2.175)) = 1.9415 m (worked out by hand), rounded up.
    assert "1.95 m" in annex and "Health Physics 118:483-524" in annex and "OET Bulletin 65" in annex
    assert "Near field" in annex and "Reflection of the ground" in annex


def test_without_the_setting_there_is_none(tmp_path: Path) -> None:
    source = world(tmp_path, evening(1, "dmr"))
    assert source.month("2026-10").exposure is None
    assert ANNEX not in text_of_pdf(pdf_of(replace(still_month(), exposure=None)))


def test_the_annex_has_the_sheet_that_the_command_gives(tmp_path: Path) -> None:
    source = asking_for_it(tmp_path, SET)
    month = source.month("2026-10")
    assert month.exposure is not None and month.exposure == source.exposure(month.start, month.end)
    assert sheet_of(month).annex == annex_of(month.exposure)


def test_where_nothing_is_set_the_annex_says_what_to_set(tmp_path: Path) -> None:
    text = text_of_pdf(pdf_of(asking_for_it(tmp_path, "").month("2026-10")), most=5)
    assert "Not set, so not known: frequency_mhz, power_w, feeder_loss_db, antenna_gain_dbi" in text
    assert "not known" in text[text.index("Distance at full duty") :]
