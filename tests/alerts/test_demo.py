"""The demo's planted incidents against a replay of the logs that it writes."""

import datetime as dt
import time
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from server.alerts.engine import replay
from server.alerts.history import OVER_COLUMNS
from server.alerts.incident import Incident
from server.alerts.load import Memory, limits_of, load_for_replay
from server.alerts.queries import StoreAlertQueries
from server.config import load_station
from server.demo.write import write_demo
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store.engine import open_store, reading
from shared.zones import DAY, HOUR, SECOND, to_us


@dataclass
class Demo:
    found: list[Incident]
    planted: dict[str, tuple[int, int]]
    seconds: float
    desk: StoreAlertQueries
    end: int
    differences: list[str]
    source: StoreSource


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    folder = tmp_path_factory.mktemp("alerts") / "demo"
    run = write_demo(folder)
    station = load_station(folder / "station.toml")
    engine = open_store(station.store_url())
    Intake(engine, station).catch_up()
    begun = time.monotonic()
    with reading(engine) as connection:
        history = load_for_replay(connection, run.start, run.end, station, {})
        memory = Memory(station, {}).history(connection, run.end)
    found = replay(history, run.start, run.end, limits_of(station))
    planted = {one["kind"]: (_us(one["from"]), _us(one["to"])) for one in run.truth["incidents"]}
    late = history.start >= memory.start[0]
    differences = [
        name for name in OVER_COLUMNS if getattr(memory, name).tolist() != getattr(history, name)[late].tolist()
    ]
    desk, source = StoreAlertQueries(engine, station), StoreSource(engine, station, run.end)
    yield Demo(found, planted, time.monotonic() - begun, desk, run.end, differences, source)
    engine.dispose()


def _us(text: str) -> int:
    return to_us(dt.datetime.fromisoformat(text))


def of(demo: Demo, rule: str, kind: str) -> list[Incident]:
    start, end = demo.planted[kind]
    return [one for one in demo.found if one.rule == rule and start <= one.raised < end + HOUR]


def test_the_stuck_transmitter_is_found_at_the_time_out_and_the_grace(demo: Demo) -> None:
    start, end = demo.planted["stuck-transmitter"]
    (one,) = of(demo, "over-runs-on", "stuck-transmitter")
    assert (one.raised, one.cleared, one.subject, one.urgent) == (start + 190 * SECOND, end, "dstar", True)


def test_interference_the_link_outage_and_the_power_cut_are_found_too(demo: Demo) -> None:
    assert len(of(demo, "chatter", "interference")) == 8  # night after night
    (link,) = of(demo, "link-down", "link-outage")
    assert (link.raised, link.cleared) == (
        demo.planted["link-outage"][0] + 900 * SECOND,
        demo.planted["link-outage"][1],
    )
    assert len(of(demo, "gone-silent", "power-cut")) == 3  # each of the three boxes


def test_the_link_that_flaps_is_found_by_the_alerts_and_by_its_figures(demo: Demo) -> None:
    (flapping,) = of(demo, "link-down", "link-flaps")
    assert flapping.subject == "mootnet, C4FM GreatMoot flapping"
    start, end = demo.planted["link-flaps"]
    found = demo.source.links(demo.end - 91 * DAY, demo.end)
    flaps = {one.key[0]: one.flaps for one in found.links if one.key[1] != "m17"}
    assert flaps == {"fellnet": 0, "ghyllnet": 0, "mootnet": 24}
    (link,) = (one for one in found.links if one.key[0] == "mootnet")
    (week,) = (one for one in link.weeks if one.flaps)
    assert week.start_us < start < end < week.end_us and week.flaps == 24


def test_every_over_over_a_link_is_told_apart_but_for_those_that_began_as_it_went(demo: Demo) -> None:
    found = demo.source.links(demo.end - 91 * DAY, demo.end)
    assert found.overs > 12_000 and found.not_told_apart < 10


def test_the_antennas_fault_and_its_repair_are_raised_once_each_within_ten_days_and_no_noise_or_new_radio(
    demo: Demo,
) -> None:
    fall, rise = [one for one in demo.found if one.rule == "reception"]
    broken, mended = demo.planted["antenna-fault"]
    assert (fall.subject, rise.subject) == ("weaker", "stronger")
    assert broken + 6 * DAY < fall.raised < broken + 11 * DAY and mended + 6 * DAY < rise.raised < mended + 11 * DAY
    assert fall.cleared == rise.raised and rise.cleared is not None


def test_nothing_else_is_urgent_in_thirteen_weeks(demo: Demo) -> None:
    spans = [
        demo.planted["stuck-transmitter"],
        demo.planted["power-cut"],
    ]  # an over was on when the power went, and its end is lost
    others = [
        one for one in demo.found if one.urgent and not any(start <= one.raised < end + HOUR for start, end in spans)
    ]
    assert others == []


def test_thirteen_weeks_are_replayed_in_seconds(demo: Demo) -> None:
    assert demo.seconds < 20  # under one on an idle machine


def test_what_the_watch_remembers_is_what_a_replay_loads(demo: Demo) -> None:
    assert demo.differences == []


def test_a_lower_limit_would_have_raised_more(demo: Demo) -> None:
    start = demo.end - 13 * 7 * 24 * HOUR
    counts = [demo.desk.would_raise("60min", False, limit, start, demo.end) for limit in (0.95, 0.6, 0.2)]
    assert counts == sorted(counts) and counts[2] > counts[0]
    back = demo.desk.look_back(start, demo.end)
    assert back.kept == [] and {one.rule for one in back.replayed} >= {"over-runs-on", "chatter", "link-down"}
