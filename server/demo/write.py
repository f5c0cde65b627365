"""The demo on disk: the hosts' logs with their rotated siblings, the station file that reads them, and the truth."""

import datetime as dt
import gzip
import json
import os
from bisect import bisect_right
from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import polars as pl

from server.demo.handwriting import DIALECTS, Handwriting, Row
from server.demo.simulate import GATEWAY, HOST, Simulated, simulate
from server.demo.station_file import station_file
from shared.zones import SECOND, from_us

#: Which dialect each box's log is written in, the first one that is shipped. Activity lines need no dialect file.
WANTED = {HOST: ("brackenfell-a",), GATEWAY: ("brackenfell-b", "brackenfell-c")}
#: Where each log was rotated, as shares of its lines, oldest file first.
ROTATED = {HOST: (0.55, 0.85), GATEWAY: (0.7,)}
UNREAD = {HOST: 17, GATEWAY: 6}  # lines planted that nobody can read
RUBBISH = ("@@ buffer overrun, {n} bytes dropped", "\x07\x1b[{n}~~", "<{n}>", "{n} ;; retry ;; ?", "kernel panic averted ({n})")
LAST_DAY = dt.date(2026, 11, 23)  # a default demo ends at its local midnight, so that a change of the clocks is inside


class Hand(Protocol):
    """Whatever writes rows as lines."""

    def header(self) -> list[str]: ...
    def lines(self, rows: Iterable[Row]) -> list[str]: ...
    def noise(self, t: int) -> list[str]: ...


class ActivityHand:
    """Writes activity lines (contract.md)."""

    def header(self) -> list[str]:
        return []

    def noise(self, t: int) -> list[str]:
        return []

    def lines(self, rows: Iterable[Row]) -> list[str]:
        return [json.dumps({"t": stamp(row["t"]), **_given(row)}) for row in rows]


def stamp(us: int) -> str:
    """RFC 3339 in UTC with milliseconds."""
    return from_us(us).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _given(row: Row) -> dict[str, Any]:
    return {key: value for key, value in row.items() if value is not None and key not in ("t", "line")}


def write_demo(folder: Path, seed: int = 1, weeks: int = 13, first_day: dt.date | None = None) -> Simulated:
    """Write the demo of `weeks` weeks into `folder`, which is made if need be. The same arguments give the same bytes.

    Its truth lies in truth.json; beyond the run's own, it says what became of each log's lines, for the whole and for each week.
    """
    folder.mkdir(parents=True, exist_ok=True)
    run = simulate(seed, first_day or LAST_DAY - dt.timedelta(days=7 * weeks), weeks)
    logs = []
    run.truth["intake"] = {}
    for box, events in run.logs.items():
        name, hand = _hand(box)
        lines = _lines(box, hand, events, seed)
        run.truth["intake"][box] = _intake(lines, run)
        path = f"logs/{box}.log"
        _write(folder / path, lines, ROTATED[box], hand.header())
        logs.append((path, name))
    (folder / "station.toml").write_text(station_file(logs), encoding="utf-8")
    (folder / "truth.json").write_text(json.dumps(run.truth, indent=1) + "\n", encoding="utf-8")
    return run


def _hand(box: str) -> tuple[str, Hand]:
    for name in WANTED[box]:
        if (DIALECTS / f"{name}.toml").exists():
            return name, Handwriting(DIALECTS / f"{name}.toml")
    return "activity", ActivityHand()


Line = tuple[int, str, str]  # when it was written (microseconds), its text, and what becomes of it


def _lines(box: str, hand: Hand, events: pl.DataFrame, seed: int) -> list[Line]:
    """The log of a box: its events, with lines of no interest and unreadable ones planted between them."""
    rows = list(events.iter_rows(named=True))
    lines = [(row["t"], text, "understood") for row, text in zip(rows, hand.lines(rows), strict=True)]
    rng = np.random.default_rng([seed, len(box)])
    planted = {int(place): RUBBISH[which % len(RUBBISH)] for which, place in enumerate(rng.choice(len(lines), UNREAD[box], replace=False))}
    out: list[Line] = []
    for place, line in enumerate(lines):
        out.append(line)
        if place in planted:
            out.append((line[0], planted[place].format(n=place), "unread"))
        if rows[place]["event"] == "alive" and place % 3 == 0:
            out += [(line[0], text, "ignored") for text in hand.noise(line[0])]
    return out


def _intake(lines: list[Line], run: Simulated) -> dict[str, Any]:
    """How many lines there are, and how many of each fate, in all and in each week."""
    edges = [week["window"]["from"] for week in run.truth["weeks"]]
    starts = [round(dt.datetime.fromisoformat(edge).timestamp()) * SECOND for edge in edges]
    counts = [{"lines": 0, "understood": 0, "ignored": 0, "unread": 0} for _ in starts]
    for t, _, fate in lines:
        week = counts[bisect_right(starts, t) - 1]
        week["lines"] += 1
        week[fate] += 1
    return {**{key: sum(week[key] for week in counts) for key in counts[0]}, "weeks": counts}


def _write(path: Path, lines: list[Line], shares: tuple[float, ...], header: list[str]) -> None:
    """The live file, `.1` before it, and packed ones before that, each as old as its last line."""
    path.parent.mkdir(parents=True, exist_ok=True)
    cuts = [0, *(int(share * len(lines)) for share in shares), len(lines)]
    for place, (first, after) in enumerate(pairwise(cuts)):
        part = lines[first:after]
        age = len(cuts) - 2 - place
        target = path if age == 0 else path.with_name(f"{path.name}.{age}" + (".gz" if age > 1 else ""))
        text = "".join(f"{line}\n" for line in [*header, *(line for _, line, _ in part)]).encode()
        target.write_bytes(gzip.compress(text, mtime=0) if age > 1 else text)
        os.utime(target, ns=(part[-1][0] * 1000, part[-1][0] * 1000))
