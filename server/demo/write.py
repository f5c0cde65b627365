"""The demo on disk: the hosts' logs with their rotated siblings, the station file that reads them, and the truth."""

import datetime as dt
import gzip
import json
import os
from bisect import bisect_right
from itertools import chain, pairwise
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import polars as pl

from server.demo.handwriting import DIALECTS, Handwriting
from server.demo.simulate import HOST, LINKS, PAGER, Simulated, simulate
from server.demo.station_file import station_file
from shared.zones import to_us

#: The dialect that each box's log is written in.
SPOKEN = {HOST: "brackenfell-a", LINKS: "gimmer-rigg", PAGER: "scar-csv"}
#: Where each log was rotated, as shares of its lines, oldest file first.
ROTATED: dict[str, tuple[float, ...]] = {HOST: (0.55, 0.85), LINKS: (0.7,), PAGER: ()}
UNREAD = {HOST: 17, LINKS: 6, PAGER: 3}  # lines planted that nobody can read
RUBBISH = (
    "@@ buffer overrun, {n} bytes dropped",
    "\x07\x1b[{n}~~",
    "<{n}>",
    "{n} ;; retry ;; ?",
    "the fan said {n} and stopped",
)
LAST_DAY = dt.date(2026, 11, 23)  # a default demo ends at its local midnight, so that a change of the clocks is inside


def write_demo(folder: Path, seed: int = 1, weeks: int = 13, first_day: dt.date | None = None) -> Simulated:
    """Write the demo of `weeks` weeks into `folder`, which is made if need be. The same arguments give the same bytes.

    Its truth lies in truth.json; beyond the run's own, it says what became of each log's lines, for the whole and for
    each week."""
    folder.mkdir(parents=True, exist_ok=True)
    run = simulate(seed, first_day or LAST_DAY - dt.timedelta(days=7 * weeks), weeks)
    logs = []
    run.truth["intake"] = {}
    for box, events in run.logs.items():
        hand = Handwriting(DIALECTS / f"{SPOKEN[box]}.toml")
        files = _files(_lines(box, hand, events, seed), ROTATED[box], hand.header())
        run.truth["intake"][box] = _intake(files, run)
        path = f"logs/{box}.log"
        _write(folder / path, files)
        logs.append((path, SPOKEN[box]))
    (folder / "station.toml").write_text(station_file(logs), encoding="utf-8")
    (folder / "truth.json").write_text(json.dumps(run.truth, indent=1) + "\n", encoding="utf-8")
    return run


class Line(NamedTuple):
    """When a line was written (microseconds; None: before any stamp), its text, and what becomes of it."""

    t: int | None
    text: str
    fate: str


def _lines(box: str, hand: Handwriting, events: pl.DataFrame, seed: int) -> list[Line]:
    """The log of a box: its events, with lines of no interest and unreadable ones planted between them."""
    rows = list(events.iter_rows(named=True))
    rng = np.random.default_rng([seed, len(box)])
    planted = {
        int(at): RUBBISH[which % len(RUBBISH)]
        for which, at in enumerate(rng.choice(len(rows), UNREAD[box], replace=False))
    }
    out: list[Line] = []
    for place, (row, text) in enumerate(zip(rows, hand.lines(rows), strict=True)):
        out.append(Line(row["t"], text, "understood"))
        if place in planted:
            out.append(Line(row["t"], planted[place].format(n=place), "unread"))
        if row["event"] == "alive" and place % 3 == 0:
            out += [Line(row["t"], noise, "ignored") for noise in hand.noise(row["t"])]
    return out


def _files(lines: list[Line], shares: tuple[float, ...], header: list[str]) -> list[list[Line]]:
    """The lines of a log as its host rotated them, oldest file first, each under the header that its dialect wants."""
    cuts = [0, *(int(share * len(lines)) for share in shares), len(lines)]
    before = [None, *(lines[cut - 1].t for cut in cuts[1:-1])]
    return [
        [*(Line(t, text, "ignored") for text in header), *lines[first:after]]
        for t, (first, after) in zip(before, pairwise(cuts), strict=True)
    ]


def _intake(files: list[list[Line]], run: Simulated) -> dict[str, Any]:
    """How many lines there are and how many of each fate: in all, and in each week (where the week is known)."""
    starts = [to_us(dt.datetime.fromisoformat(week["window"]["from"])) for week in run.truth["weeks"]]
    total, *weeks = ({"lines": 0, "understood": 0, "ignored": 0, "unread": 0} for _ in range(len(starts) + 1))
    for line in chain.from_iterable(files):
        for counts in [total] if line.t is None else [total, weeks[bisect_right(starts, line.t) - 1]]:
            counts["lines"] += 1
            counts[line.fate] += 1
    return {**total, "weeks": weeks}


def _write(path: Path, files: list[list[Line]]) -> None:
    """The live file, `.1` before it, and packed ones before that, each as old as its last line."""
    path.parent.mkdir(parents=True, exist_ok=True)
    for age, lines in enumerate(reversed(files)):
        target = path if age == 0 else path.with_name(f"{path.name}.{age}" + (".gz" if age > 1 else ""))
        text = "".join(f"{line.text}\n" for line in lines).encode()
        target.write_bytes(gzip.compress(text, mtime=0) if age > 1 else text)
        ns = (lines[-1].t or 0) * 1000
        os.utime(target, ns=(ns, ns))
