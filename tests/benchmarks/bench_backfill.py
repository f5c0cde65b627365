"""Backfill beside what a person would script: mawk into sqlite3's .import, and a mawk one-liner that only sums airtime.

All three read the same generated file. The script hardly validates and forgets where it was; it makes the same rows
(overs that are paired, other events), the same index and a rollup by hour and mode."""

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path

import sqlalchemy as sa

from server.config import load_station
from server.store import schema
from server.store.engine import open_store, reading
from tests.benchmarks.biglog import BigLog, write_biglog
from tests.benchmarks.installed import ROOT, installed

FULL_LINES, SHORT_LINES = 5_000_000, 300_000
GOAL = 1.5  # times the script's time

SUMS = r"""
$5 == "shut" { for (i = 7; i <= NF; i++) if ($i == "after") {
    s = $(i + 1); if (s ~ /m/) { split(s, p, /m/); s = p[1] * 60 + p[2] }
    sum[$3 " " substr($1, 1, 10)] += s + 0; break } }
END { for (k in sum) print k, sum[k] }
"""

ROWS = r"""
BEGIN { OFS = "|" }
$5 == "open" { k = $3 $4 $2; t = $8; for (i = 9; i <= NF; i++) t = t " " $i; began[k] = $1; to[k] = t; next }
$5 == "shut" { k = $3 $4 $2; s = $8; if (s ~ /m/) { split(s, p, /m/); s = p[1] * 60 + p[2] }
    cause = $NF; if ($2 == "RX") { ber = $10; loss = ""; level = $12 } else { ber = ""; loss = $10; level = "" }
    print began[k], $1, s + 0, $3, $4, $2, $6, to[k], ber + 0, loss + 0, level + 0, cause > overs
    delete began[k]; next }
$2 == "RX" && $3 == "noise" { print $1, "noise", $4, "", "", "", "" > others; next }
$2 == "RX" && $4 == "turned" { w = $7; for (i = 8; i <= NF; i++) w = w " " $i
    print $1, "refused", $3, $6, w, "", "" > others; next }
$2 == "LINE" || $2 == "TX" || $2 == "HOST" && $3 != "well," { print $1, $2, $3, $4, $5, $6, $7 > others }
"""

SCHEMA = """
CREATE TABLE o(began, ended, seconds, mode, slot, side, station, target, ber, loss, level, cause);
CREATE INDEX oi ON o(began);
CREATE TABLE e(t, kind, a, b, c, d, e);
CREATE INDEX ei ON e(kind, t);
"""
ROLLUP = (
    "CREATE TABLE r AS SELECT substr(began, 1, 13) AS hour, mode, count(*) AS overs, sum(seconds) AS airtime FROM o"
    " GROUP BY 1, 2;"
)


def one_liner(log: Path) -> None:
    """Airtime by mode and day, nothing else."""
    subprocess.run(["mawk", SUMS, str(log)], check=True, stdout=subprocess.DEVNULL)


def script(log: Path, place: Path) -> int:
    """mawk to two pipes, both imported at once into one database; the number of overs."""
    database = place / "script.db"
    for old in place.glob("script.db*"):
        old.unlink()
    subprocess.run(
        ["sqlite3", str(database), "PRAGMA journal_mode = WAL;" + SCHEMA], check=True, stdout=subprocess.DEVNULL
    )
    others = place / "others.txt"
    importer = subprocess.Popen(
        ["sqlite3", "-separator", "|", str(database), ".import /dev/stdin o"], stdin=subprocess.PIPE
    )
    assert importer.stdin is not None
    subprocess.run(
        ["mawk", "-v", "overs=/dev/stdout", "-v", f"others={others}", ROWS, str(log)], check=True, stdout=importer.stdin
    )
    importer.stdin.close()
    importer.wait()
    subprocess.run(["sqlite3", "-separator", "|", str(database), f".import {others} e", ROLLUP], check=True)
    counted = subprocess.run(
        ["sqlite3", str(database), "SELECT count(*) FROM o"], check=True, capture_output=True, text=True
    )
    return int(counted.stdout)


def ours(log: Path, place: Path, env: Mapping[str, str]) -> int:
    """A backfill into a new store, as a process of its own; the number of overs."""
    for old in place.glob("airtally.db*"):
        old.unlink()
    (place / "station.toml").write_text(
        f'[repeater]\ncallsign = "QB0BFR"\n[[log]]\npath = "{log}"\ndialect = "brackenfell-a"\n'
    )
    command = [sys.executable, "-m", "server.cli", "ingest", "--station", str(place / "station.toml")]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=ROOT, env=env)
    engine = open_store(load_station(place / "station.toml").store_url())
    with reading(engine) as connection:
        found = connection.execute(
            sa.select(sa.func.count()).select_from(schema.over).where(schema.over.c.end.is_not(None))
        ).scalar_one()
    engine.dispose()
    return int(found)


def seconds(work: Callable[[], object]) -> float:
    """By the clock; what ran before has been written to disk by then, so that nobody waits for another's pages."""
    os.sync()
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def measure(lines: int, rounds: int, place: Path) -> tuple[BigLog, list[tuple[float, float, float]]]:
    """The times of one-liner, script and backfill, in turn, `rounds` times."""
    log = place / "host.log"
    written = write_biglog(log, lines)
    env = installed()
    times = []
    for _ in range(rounds):
        rows: list[int] = []
        times.append(
            (
                seconds(lambda: one_liner(log)),
                seconds(lambda kept=rows: kept.append(script(log, place))),
                seconds(lambda kept=rows: kept.append(ours(log, place, env))),
            )
        )
        assert abs(rows[0] - written.overs) <= 0.001 * written.overs, (rows, written.overs)  # the script doubts nothing
        assert rows[1] == written.overs, (rows, written.overs)
    return written, times


def run(full: bool) -> str:
    """The table of results."""
    lines, rounds = (FULL_LINES, 3) if full else (SHORT_LINES, 1)
    if not (shutil.which("mawk") and shutil.which("sqlite3")):
        return "mawk and sqlite3 are needed (Debian: apt-get install mawk sqlite3)."
    with tempfile.TemporaryDirectory() as folder:
        written, times = measure(lines, rounds, Path(folder))
    medians = [statistics.median(column) for column in zip(*times, strict=True)]
    to_script = statistics.median(mine / theirs for _, theirs, mine in times)
    rows = [
        ("mawk one-liner: sums airtime by mode and day", medians[0]),
        ("mawk → `sqlite3 .import`, index, rollup", medians[1]),
        ("`airtally ingest`, a whole process", medians[2]),
    ]
    table = "\n".join(
        f"| {name} | {time_s:.1f} | {time_s / medians[0]:.1f} | {time_s / medians[1]:.2f} |" for name, time_s in rows
    )
    return (
        f"Backfill of {written.lines:,} lines ({written.overs:,} overs), medians of {rounds} rounds in turn.\n\n"
        f"| | seconds | ratio to the one-liner | ratio to the script |\n| --- | --- | --- | --- |\n{table}\n\n"
        f"Goal: at most {GOAL} times the script. Reached, median of the rounds' ratios: {to_script:.2f}."
    )
