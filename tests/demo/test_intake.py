"""The demo's logs go the way of any keeper's logs, and each counted figure that comes out is the one that the simulator
knows.
"""

import datetime as dt
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest

from server.config import Station, load_station
from server.demo.write import write_demo
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store.engine import open_store
from shared.zones import to_us


@pytest.fixture(scope="module")
def read_in(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], StoreSource, Any]:
    folder: Path = tmp_path_factory.mktemp("demo")
    truth = write_demo(folder, seed=3, weeks=3, first_day=dt.date(2026, 10, 19)).truth
    station: Station = load_station(folder / "station.toml")
    engine = open_store(station.store_url())
    caught = Intake(engine, station).catch_up()
    assert not caught.troubles
    return truth, StoreSource(engine, station), caught


def differences(told: Any, known: Any, where: str = "") -> list[str]:
    """Where the figures part from the truth; figures that the truth doesn't give are left alone, save for whole modes
    and cells.
    """
    if isinstance(known, dict):
        here = [f"{where}.{key} is missing" for key in known if key not in told]
        if where.endswith((".modes", ".slot_s")):
            here += [f"{where}.{key} is too many" for key in told if key not in known]
        return here + [d for key in known if key in told for d in differences(told[key], known[key], f"{where}.{key}")]
    if where.endswith(".shut_outs"):
        keyed = [{f"{cell['held_by']} over {cell['wanted']}": cell for cell in cells} for cells in (told, known)]
        extra = [f"{where}.{key} is too many" for key in keyed[0] if key not in keyed[1]]
        return extra + differences(keyed[0], keyed[1], where + "!")
    same = told == pytest.approx(known, rel=1e-9, abs=1e-6) if isinstance(known, (int, float)) else told == known
    return [] if same else [f"{where}: figures say {told}, truth says {known}"]


def window(truth: dict[str, Any]) -> tuple[int, int]:
    first, after = (to_us(dt.datetime.fromisoformat(truth["window"][edge])) for edge in ("from", "to"))
    return first, after


def test_every_counted_figure_of_every_week_is_the_truth(read_in: tuple[dict[str, Any], StoreSource, Any]) -> None:
    truth, source, _ = read_in
    for week in [*truth["weeks"], truth["whole"]]:
        assert differences(source.figures(*window(week)).as_json(), week) == [], week["window"]["from"]


def test_every_line_has_the_fate_that_the_writer_meant(read_in: tuple[dict[str, Any], StoreSource, Any]) -> None:
    truth, source, caught = read_in
    boxes = truth["intake"].values()
    assert caught.unread == sum(box["unread"] for box in boxes) > 20
    assert caught.understood == sum(box["understood"] for box in boxes)
    assert caught.ignored == sum(box["ignored"] for box in boxes) > 0
    for place, week in enumerate(truth["weeks"]):
        meant = {
            key: sum(box["weeks"][place][key] for box in boxes) for key in ("lines", "understood", "ignored", "unread")
        }
        assert differences(asdict(source.figures(*window(week)).intake), {**meant, "orphans": 0, "doubtful": 0}) == []
