"""The labelled bench in its short form: two station-years, held to the goals."""

import numpy as np
import pytest

from server.alerts.incident import Incident
from shared.zones import HOUR
from tests.alerts.worlds import DAY0, T0
from tests.benchmarks import bench_alerts
from tests.benchmarks.alerts.plant import FAULTS, NO_FAULTS, Planted
from tests.benchmarks.alerts.traffic import LIMITS, pool, station_year

pytestmark = pytest.mark.bench


def test_every_planted_stuck_transmitter_is_found_in_time_and_hardly_anything_else_wakes() -> None:
    pieces = pool(range(3, 4), 8)
    total = bench_alerts.Score()
    for seed in (11, 12):
        total.add(bench_alerts.measure(seed, pieces))
    for kind, goal in bench_alerts.GOALS.items():
        assert len(total.delays[kind]) == total.planted[kind] == 2 * FAULTS[kind]
        assert max(total.delays[kind]) <= goal, kind
    assert set(total.planted) == {*FAULTS, *NO_FAULTS}
    assert sum(total.night_alerts.values()) / total.years < 1


def test_the_score_tells_what_was_missed_and_what_had_no_cause() -> None:
    stuck = Planted("stuck, open", T0, T0 + HOUR, "dstar")
    wrong = Incident("over-runs-on", "dmr/1", T0 - 2 * HOUR, None, True, "")
    by_day = Incident("duty", "transmitter", DAY0, None, True, "")
    found = bench_alerts.score([wrong, by_day], [stuck])
    assert found.delays == {} and found.planted == {"stuck, open": 1}
    assert found.without_cause == {"over-runs-on": 1, "duty": 1} and found.night_alerts == {"over-runs-on": 1}
    right = Incident("over-runs-on", "dstar", T0 + LIMITS.timeout, None, True, "")
    assert bench_alerts.score([right], [stuck]).delays == {"stuck, open": [LIMITS.timeout]}


def test_a_station_year_keeps_its_local_clock_over_both_clock_changes() -> None:
    pieces = pool(range(5, 6), 5)
    year = station_year(np.random.default_rng(1), pieces)
    local = year.overs["start"] + LIMITS.offsets(year.overs["start"])
    for weekday, hour in ((1, 20), (3, 20)):  # the nets of server.demo.world: Tuesday and Thursday at 20:00 local
        inside = (local // (24 * HOUR) + 3) % 7 == weekday
        by_hour = np.bincount((local[inside] // HOUR % 24), minlength=24)
        assert by_hour.argmax() == hour
