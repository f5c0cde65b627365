"""The Week page with one year and with five years in the store: its cost follows the window, not the store.

Thirteen simulated weeks pass through the real intake; further years are the same rows again and again, moved by fourteen weeks at a time.
"""

import statistics
import tempfile
import time
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
            for table, instants in ((schema.over, ("start", "end", "until")), (schema.event, ("t",)), (schema.line_hour, ("hour",))):
                columns = [column for column in table.c if column.name != "id"]
                moved = [(column - shift).label(column.name) if column.name in instants else column for column in columns]
                latest = sa.select(sa.func.max(table.c[instants[0]])).scalar_subquery()
                original = sa.select(*moved).where(table.c[instants[0]] > latest - QUARTER)
                connection.execute(sa.insert(table).from_select([column.name for column in columns], original))
        connection.execute(sa.delete(schema.tally))
        return int(connection.execute(sa.select(sa.func.count()).select_from(schema.over)).scalar_one())


def page_times(engine: sa.Engine, station: Station, rounds: int) -> tuple[float, float, float]:
    """Milliseconds: the first page of all (tallies are made), then the median of pages that are made anew, and of pages that are kept."""
    last = StoreSource(engine, station).first_and_last()
    assert last is not None
    week = from_us(last[1], station.zone).date().isocalendar()
    path = f"/week/{week.year}-W{week.week:02}"

    def fresh() -> TestClient:
        source = StoreSource(engine, station, now_us=last[1] + DAY)
        return TestClient(create_app(source, WebOptions(folder=Path(station.folder))), base_url="http://127.0.0.1:8087")

    def fetch(client: TestClient) -> float:
        begun = time.perf_counter()
        assert client.get(path).status_code == 200
        return (time.perf_counter() - begun) * 1000

    first = fetch(fresh())
    made = statistics.median(fetch(fresh()) for _ in range(rounds))
    client = fresh()
    fetch(client)
    return first, made, statistics.median(fetch(client) for _ in range(rounds * 3))


def measure(quarters: tuple[int, ...], rounds: int, place: Path) -> list[tuple[int, int, int, tuple[float, float, float]]]:
    """For each size of the store: quarters, overs, bytes, page times."""
    write_demo(place)
    station = load_station(place / "station.toml")
    results = []
    for count in quarters:
        for old in place.glob("airtally.db*"):
            old.unlink()
        engine = open_store(station.store_url())
        Intake(engine, station).catch_up()
        overs = grow(engine, count)
        results.append((count, overs, (place / "airtally.db").stat().st_size, page_times(engine, station, rounds)))
        engine.dispose()
    return results


def run(full: bool) -> str:
    """The table of results."""
    quarters, rounds = ((4, 19), 15) if full else ((1, 5), 5)
    with tempfile.TemporaryDirectory() as folder:
        results = measure(quarters, rounds, Path(folder) / "demo")
    rows = [
        f"| {count * 14} weeks | {overs:,} | {size / 2**20:.0f} MB | {first:.0f} | {made:.0f} | {kept:.1f} |"
        for count, overs, size, (first, made, kept) in results
    ]
    small, large = results[0][3], results[-1][3]
    return (
        "The Week page, milliseconds in process, medians: the first one after a backfill makes and keeps the tallies of the weeks before.\n\n"
        "| in the store | overs | size | first | made anew | kept |\n| --- | --- | --- | --- | --- | --- |\n" + "\n".join(rows) + "\n\n"
        f"Larger store to smaller: first {large[0] / small[0]:.2f}, made anew {large[1] / small[1]:.2f}."
    )


