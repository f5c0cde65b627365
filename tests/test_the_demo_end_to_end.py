"""The simulator's truth against the figures: thirteen weeks written as real logs, read by the real intake, asked by the
real commands.
"""

import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from server.analytics.hour_tallies import Reckoning, window_sums
from server.analytics.reception_changes import Kind
from server.config import load_station
from server.demo.incidents import NOISE_HOURS
from server.demo.write import write_demo
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store.engine import open_store
from shared.zones import to_us


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[StoreSource, dict[str, Any], Path]]:
    folder = tmp_path_factory.mktemp("demo") / "demo"
    write_demo(folder)
    station = load_station(folder / "station.toml")
    engine = open_store(station.store_url())
    caught = Intake(engine, station).catch_up()
    assert caught.troubles == []
    yield StoreSource(engine, station), json.loads((folder / "truth.json").read_text()), folder
    engine.dispose()


def window_of(truth: dict[str, Any]) -> tuple[int, int]:
    return to_us(dt.datetime.fromisoformat(truth["window"]["from"])), to_us(
        dt.datetime.fromisoformat(truth["window"]["to"])
    )


def differences(truth: Any, found: Any, path: str = "") -> list[str]:
    """Where the figures don't say what the simulator knows."""
    if isinstance(truth, dict):
        return [
            line
            for key, value in truth.items()
            for line in differences(value, found.get(key) if isinstance(found, dict) else None, f"{path}/{key}")
        ]
    if isinstance(truth, list):
        key = lambda row: (row["held_by"], row["wanted"])  # noqa: E731
        pairs = zip(sorted(truth, key=key), sorted(found, key=key), strict=False)
        return [f"{path}: {len(truth)} rows, {len(found)} found"] * (len(truth) != len(found)) + [
            line for number, (one, other) in enumerate(pairs) for line in differences(one, other, f"{path}[{number}]")
        ]
    same = found == pytest.approx(truth, abs=1e-6) if isinstance(truth, float) else found == truth
    return [] if same else [f"{path}: {truth!r}, found {found!r}"]


def test_every_figure_that_the_simulator_knows_is_exact_in_every_week(
    demo: tuple[StoreSource, dict[str, Any], Path],
) -> None:
    source, truth, _ = demo
    assert len(truth["weeks"]) == 13
    problems = []
    for week in truth["weeks"]:
        found = source.figures(*window_of(week))
        problems += differences(week, found.as_json(), week["window"]["from"])
        assert week["modes"].keys() == found.modes.keys()
    assert problems == []


def test_and_in_the_thirteen_weeks_as_a_whole(demo: tuple[StoreSource, dict[str, Any], Path]) -> None:
    source, truth, _ = demo
    assert differences(truth["whole"], source.figures(*window_of(truth["whole"])).as_json()) == []


def test_the_tallies_that_are_kept_are_those_that_the_overs_give_again(
    demo: tuple[StoreSource, dict[str, Any], Path],
) -> None:
    source, truth, folder = demo
    station = load_station(folder / "station.toml")
    reckoning = Reckoning(station.timers_for_figures(), station.zone, {})
    for week in truth["weeks"][-3:]:
        sums = window_sums(source._engine, reckoning, *window_of(week))
        found = source.figures(*window_of(week))
        assert sums[""]["airtime_us"] == round(found.channel.airtime_s * 1e6)
        assert sums[""]["keyed_us"] == round(found.channel.keyed_s * 1e6)
        for mode, own in found.modes.items():
            kept = sums[mode]
            assert [kept["airtime_us"], kept["idle_hold_us"]] == [
                round(own.airtime_s * 1e6),
                round(own.idle_hold_s * 1e6),
            ]
            assert [kept[name] for name in ("overs", "timeouts", "near_timeouts", "shut_outs")] == [
                own.overs,
                own.timeouts,
                own.near_timeouts,
                own.shut_outs_suffered,
            ]


def test_the_faults_of_the_receiver_are_found_with_day_size_and_hours_and_the_new_radio_misleads_nobody(
    demo: tuple[StoreSource, dict[str, Any], Path],
) -> None:
    source, truth, _ = demo
    found = source.reception(*window_of(truth["whole"]))
    planted = {one["kind"]: (one["from"][:10], one["to"][:10]) for one in truth["incidents"]}
    broken, mended, noisy, quiet = found.changes
    assert [one.kind for one in found.changes] == [Kind.DEAF, Kind.BETTER, Kind.NOISE, Kind.BETTER]
    for change, day in zip(found.changes, (*planted["antenna-fault"], *planted["night-noise"]), strict=True):
        assert abs((change.day - dt.date.fromisoformat(day)).days) <= 1
    assert broken.level and broken.level.low <= -12 <= broken.level.high and broken.hours is None
    assert mended.level and mended.level.low <= 12 <= mended.level.high and mended.hours is None
    assert noisy.errors and noisy.errors.size == pytest.approx(1.8, abs=0.3) and noisy.hours == NOISE_HOURS
    assert quiet.errors and quiet.errors.size == pytest.approx(-1.8, abs=0.3) and quiet.hours == NOISE_HOURS
