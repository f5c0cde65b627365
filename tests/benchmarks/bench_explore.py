"""Explore over a store of five simulated years: what an answer costs, beside the figures of one week."""

import datetime as dt
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from starlette.testclient import TestClient

from server.config import load_station
from server.demo.write import write_demo
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store.engine import close_stores, open_store
from server.web.app import create_app
from server.web.listening import WebOptions
from shared.zones import from_us, midnight

LAST_MONDAY = dt.date(2026, 11, 23)
ROUNDS = 6


def built(folder: Path, weeks: int) -> Path:
    """A store of so many simulated weeks that end at LAST_MONDAY."""
    write_demo(folder, weeks=weeks, first_day=LAST_MONDAY - dt.timedelta(weeks=weeks))
    station = load_station(folder / "station.toml")
    Intake(open_store(station.store_url()), station).catch_up()
    return folder


def cpu_ms(work: Callable[[], object]) -> float:
    """Processor time, as the machine may have other work."""
    begun = time.process_time()
    work()
    return 1000 * (time.process_time() - begun)


def measured(folder: Path, weeks: int) -> str:
    """The section for the results. Each answer is of a stretch that was not asked for before."""
    station = load_station(folder / "station.toml")
    engine = open_store(station.store_url())
    source = StoreSource(engine, station)
    client = TestClient(create_app(source, WebOptions(folder)), base_url="http://127.0.0.1:8087")
    zone = station.zone
    first = LAST_MONDAY - dt.timedelta(weeks=weeks)
    made = cpu_ms(lambda: client.get(f"/explore/data?from={first}&to={LAST_MONDAY}"))

    def figures(back: int) -> None:
        monday = LAST_MONDAY - dt.timedelta(weeks=back + 1)
        source.figures(midnight(monday, zone), midnight(monday + dt.timedelta(weeks=1), zone))

    def asked(path: str, days: int) -> Callable[[int], None]:
        def get(hours: int) -> None:
            end = from_us(midnight(LAST_MONDAY, zone) - hours * 3_600_000_000, zone)
            start = end - dt.timedelta(days=days) if days else end - dt.timedelta(hours=5)
            query = f"from={start:%Y-%m-%dT%H:%M}&to={end:%Y-%m-%dT%H:%M}"
            assert client.get(f"{path}?{query}").status_code == 200

        return get

    looked: list[tuple[str, Callable[[int], None]]] = [
        ("`figures` of one week", figures),
        (f"numbers of {weeks} weeks", asked("/explore/data", 7 * weeks - 1)),
        (f"page of {weeks} weeks", asked("/explore", 7 * weeks - 2)),
        ("numbers of 13 weeks", asked("/explore/data", 91)),
        ("numbers of an evening", asked("/explore/data", 0)),
    ]
    times = [
        (what, statistics.median(cpu_ms(lambda n=n, get=get: get(n)) for n in range(ROUNDS))) for what, get in looked
    ]
    week = times[0][1]
    rows = [f"| {what} | {ms:,.0f} ms | {ms / week:.1f} |" for what, ms in times]
    return "\n".join([
        "## Explore",
        "",
        f"A store of {weeks} simulated weeks; processor time, median of {ROUNDS}, each a stretch that was not asked for"
        f" before. The first look of all, which makes the tallies, took {made / 1000:,.1f} s.",
        "",
        "| what | takes | times one week's figures |",
        "| --- | --- | --- |",
        *rows,
    ])  # fmt: skip


def run(full: bool) -> str:
    """The section for the results."""
    weeks = 261 if full else 3
    with tempfile.TemporaryDirectory() as folder:
        section = measured(built(Path(folder), weeks), weeks)
        close_stores()
    return section
