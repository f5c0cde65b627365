"""The Week page with one year and with five years in the store: its cost follows the window, not the store.

Thirteen simulated weeks pass through the real intake; further years are the same rows again and again, moved by
fourteen weeks at a time."""

import shutil
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
from starlette.testclient import TestClient

from server.config import Station, load_station
from server.demo.write import write_demo
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store import schema
from server.store.engine import open_store, writing
from server.web.app import create_app
from server.web.listening import WebOptions
from shared.zones import DAY, from_us

QUARTER = 98 * DAY  # one of the fourteen weeks stays silent, so that no hour comes twice


def grow(engine: sa.Engine, quarters: int) -> int:
    """Repeat the first thirteen weeks backwards until there are so many quarters; the number of overs."""
    with writing(engine) as connection:
        for back in range(1, quarters):
            shift = back * QUARTER
            for table, instants in (
                (schema.over, ("start", "end", "until")),
                (schema.event, ("t",)),
                (schema.line_hour, ("hour",)),
            ):
                columns = [column for column in table.c if column.name != "id"]
                moved = [
                    (column - shift).label(column.name) if column.name in instants else column for column in columns
                ]
                latest = sa.select(sa.func.max(table.c[instants[0]])).scalar_subquery()
                original = sa.select(*moved).where(table.c[instants[0]] > latest - QUARTER)
                connection.execute(sa.insert(table).from_select([column.name for column in columns], original))
        connection.execute(sa.delete(schema.tally))
        return int(connection.execute(sa.select(sa.func.count()).select_from(schema.over)).scalar_one())


@dataclass(frozen=True)
class Sized:
    """A store of some size, and the milliseconds that its pages took."""

    weeks: int
    overs: int
    bytes: int
    first: float  #: the first page of all: tallies are made
    made: tuple[float, ...]  #: pages that are made anew
    kept: tuple[float, ...]  #: pages that were asked for before


def measure(
    quarters: tuple[int, ...], rounds: int, place: Path, clock: Callable[[], float] = time.perf_counter
) -> list[Sized]:
    """Times of the last week's page for each size of the store, taken in turn so that a busy moment of the machine
    meets them all.
    """
    write_demo(place)
    station = load_station(place / "station.toml")
    engine = open_store(station.store_url())
    Intake(engine, station).catch_up()
    engine.dispose()
    stores = []
    for count in quarters:
        shutil.copy(place / "airtally.db", place / f"{count}.db")
        engine = open_store(f"sqlite:///{place / f'{count}.db'}")
        overs = grow(engine, count)
        stores.append((engine, count * 14, overs, (place / f"{count}.db").stat().st_size))
    first = [_fetch(_fresh(engine, station), engine, station, clock) for engine, *_ in stores]
    made: list[list[float]] = [[] for _ in stores]
    kept: list[list[float]] = [[] for _ in stores]
    for _ in range(rounds):
        for index, (engine, *_) in enumerate(stores):
            client = _fresh(engine, station)
            made[index].append(_fetch(client, engine, station, clock))
            kept[index].append(_fetch(client, engine, station, clock))
    for engine, *_ in stores:
        engine.dispose()
    return [
        Sized(weeks, overs, size, first[index], tuple(made[index]), tuple(kept[index]))
        for index, (_, weeks, overs, size) in enumerate(stores)
    ]


def _fresh(engine: sa.Engine, station: Station) -> TestClient:
    """An application that has made no page yet."""
    source = StoreSource(engine, station, now_us=_last(engine, station) + DAY)
    return TestClient(create_app(source, WebOptions(folder=Path(station.folder))), base_url="http://127.0.0.1:8087")


def _last(engine: sa.Engine, station: Station) -> int:
    bounds = StoreSource(engine, station).first_and_last()
    assert bounds is not None
    return bounds[1]


def _fetch(client: TestClient, engine: sa.Engine, station: Station, clock: Callable[[], float]) -> float:
    week = from_us(_last(engine, station), station.zone).date().isocalendar()
    begun = clock()
    assert client.get(f"/week/{week.year}-W{week.week:02}").status_code == 200
    return (clock() - begun) * 1000


def run(full: bool) -> str:
    """The table of results."""
    quarters, rounds = ((4, 19), 15) if full else ((1, 5), 5)
    with tempfile.TemporaryDirectory() as folder:
        results = measure(quarters, rounds, Path(folder) / "demo")
    median = statistics.median
    rows = [
        f"| {one.weeks} weeks | {one.overs:,} | {one.bytes / 2**20:.0f} MB | {one.first:.0f} | {median(one.made):.0f} |"
        f" {median(one.kept):.1f} |"
        for one in results
    ]
    small, large = results[0], results[-1]
    return (
        "The Week page, milliseconds in process, medians: the first one after a backfill makes and keeps the tallies of"
        " the weeks before.\n\n| in the store | overs | size | first | made anew | kept |\n| --- | --- | --- | --- |"
        " --- | --- |\n"
        + "\n".join(rows)
        + f"\n\nLarger store to smaller: first {large.first / small.first:.2f}, made anew"
        f" {median(large.made) / median(small.made):.2f}."
    )
