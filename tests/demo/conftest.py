"""One run that the tests of the demo share, and one short one for slow twins."""

import datetime as dt

import pytest

from server.demo.simulate import Simulated, simulate


@pytest.fixture(scope="session")
def autumn() -> Simulated:
    return simulate(seed=11, first_day=dt.date(2026, 10, 12), weeks=4)


@pytest.fixture(scope="session")
def week() -> Simulated:
    return simulate(seed=5, first_day=dt.date(2026, 6, 1), weeks=1, incidents=False)
