"""The committee's report of one month out of a store of five years, as whole processes: time and memory."""

import datetime as dt
import json
import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

import polars as pl
import sqlalchemy as sa

from server.config import load_station
from server.demo.simulate import simulate
from server.intake.ingest import Intake
from server.store import schema
from server.store.engine import open_store, writing
from server.store.facts import raise_version
from shared.zones import DAY, iso
from tests.benchmarks.installed import ROOT, installed

WEEKS = 4  # simulated; the five years repeat them
FIRST_DAY = dt.date(2026, 8, 24)  # no clock change in the four weeks, so that copies join
YEARS = 5
SECONDS_AT_MOST, MB_AT_MOST = 1.0, 200.0
MONTH = "2026-10"
STATION = """[repeater]
callsign = "QB0BFR"
name = "Brackenfell"
zone = "Europe/London"
[timers]
hold_s = 20
quiet_log_s = 900
[[log]]
path = "host.log"
dialect = "activity"
"""


def build(folder: Path, years: float) -> int:
    """A store of so many years that end in November 2026: four weeks read from a log, and copies of their rows, each
    moved by a multiple of four weeks. Gives the number of overs.
    """
    events = simulate(1, FIRST_DAY, WEEKS).events.drop("line").with_columns(pl.col(pl.Enum).cast(pl.String))
    rows = events.iter_rows(named=True)
    lines = (
        {"t": iso(row.pop("t")), **{key: value for key, value in row.items() if value is not None}} for row in rows
    )
    (folder / "station.toml").write_text(STATION)
    (folder / "host.log").write_text("".join(json.dumps(line) + "\n" for line in lines))
    station = load_station(folder / "station.toml")
    engine = open_store(station.store_url())
    Intake(engine, station).catch_up()
    with writing(engine) as connection:
        for table, instants in (
            (schema.over, ("start", "end", "until")),
            (schema.event, ("t",)),
            (schema.line_hour, ("hour",)),
        ):
            names = [column.name for column in table.c if column.name != "id"]
            columns = ", ".join(f'"{name}"' for name in names)
            moved = ", ".join(f'"{name}" + :by' if name in instants else f'"{name}"' for name in names)
            connection.exec_driver_sql(f"CREATE TEMPORARY TABLE source AS SELECT {columns} FROM {table.name}")
            copy = sa.text(f"INSERT OR IGNORE INTO {table.name} ({columns}) SELECT {moved} FROM source")
            for times in [
                1,
                2,
                *range(-1, -round(years * 365.25 / (WEEKS * 7)), -1),
            ]:  # two after them, so that October is whole
                connection.execute(copy, {"by": times * WEEKS * 7 * DAY})
            connection.exec_driver_sql("DROP TABLE source")
        raise_version(connection)
        overs = connection.execute(sa.select(sa.func.count()).select_from(schema.over)).scalar_one()
    engine.dispose()
    return overs


#: Starts one process and tells its time and memory. A process of its own: what a child's memory peaks at counts from
#: the fork on.
MEASURE = """
import json, resource, subprocess, sys, time
started = time.perf_counter()
code = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL).returncode
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(json.dumps([code, time.perf_counter() - started, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024]))
"""


def report(folder: Path, env: Mapping[str, str]) -> tuple[float, float, float]:
    """One report in a process of its own: seconds by the clock, seconds of processor, MB at most."""
    command = [sys.executable, "-m", "server.cli", "report", "--month", MONTH, "-o", str(folder / "out.pdf")]
    return measured(*command, "--station", str(folder / "station.toml"), env=env)


def measured(*command: str, env: Mapping[str, str]) -> tuple[float, float, float]:
    """The same of any command that ends well."""
    launcher = [sys.executable, "-S", "-c", MEASURE, *command]
    code, clock, processor, memory = json.loads(
        subprocess.run(launcher, cwd=ROOT, env=env, capture_output=True, check=True).stdout
    )
    assert code == 0
    return clock, processor, memory


def run(full: bool) -> str:
    """Markdown of a whole run: five years, nine reports."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        overs = build(folder, YEARS if full else 1.5)
        env = installed()
        os.sync()  # what building it left to be written
        first = report(folder, env)
        again = [report(folder, env) for _ in range(9 if full else 3)]
    clock, processor, memory = (statistics.median(column) for column in zip(*again, strict=True))
    held = clock < SECONDS_AT_MOST and memory < MB_AT_MOST
    return "\n".join([
        "## The committee's report of one month",
        "",
        f"A store of {YEARS if full else 1.5} years with {overs:,} overs; `airtally report --month {MONTH}` as a whole "
            f"process, median of {len(again)} runs "
        "after the first. The first one makes the hour tallies of the thirteen months before and keeps them.",
        "",
        "| | by the clock, s | processor, s | memory at most, MB |",
        "| --- | --- | --- | --- |",
        f"| first report of a store without tallies | {first[0]:.2f} | {first[1]:.2f} | {first[2]:.0f} |",
        f"| any later one | {clock:.2f} (least {min(row[0] for row in again):.2f}) | {processor:.2f} | {memory:.0f} |",
        "",
        f"Asked: under {SECONDS_AT_MOST:g} s and {MB_AT_MOST:g} MB; {'held' if held else 'missed'} by the median.",
    ])  # fmt: skip


if __name__ == "__main__":
    print(run(full="--full" in sys.argv))
