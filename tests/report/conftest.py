"""One simulated October for all tests of a run: 28 September to 1 November 2026, with the change of the clocks in
it.
"""

import datetime as dt
from pathlib import Path

import pytest

from server.report.month import Month
from server.report.pdf import pdf_of
from server.source import StoreSource
from tests.report.worlds import simulated, world


@pytest.fixture(scope="session")
def october_source(tmp_path_factory: pytest.TempPathFactory) -> StoreSource:
    return world(tmp_path_factory.mktemp("october"), simulated(dt.date(2026, 9, 28), 5))


@pytest.fixture(scope="session")
def october(october_source: StoreSource) -> Month:
    return october_source.month("2026-10")


@pytest.fixture(scope="session")
def october_pdf(october: Month) -> bytes:
    return pdf_of(october)


@pytest.fixture(scope="session")
def october_folder(october_source: StoreSource) -> Path:
    return october_source._station.folder
