"""One week at Brackenfell as a plain book of what happened, for hands to write as logs; and how well a log, read again,
gives its overs back.
"""

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from parsers.reading import Carry, Reader
from server.demo.simulate import simulate
from server.intake.pairing import nothing_open, pair
from shared.identity import identity
from shared.zones import SECOND, from_us

Row = dict[str, Any]
FIRST_DAY = dt.date(2026, 6, 1)


@dataclass(frozen=True)
class Book:
    """What happened, in order of time: event rows as in an activity line, `t` in microseconds; ends carry `start`
    too.
    """

    rows: list[Row]
    overs: list[
        Row
    ]  #: the truth: finished overs in order of start, with `start`, `end`, mode, slot, side, station (identity)


@lru_cache
def book(seed: int = 5, days: int = 7) -> Book:
    """A week of traffic, its links, pages and carriers."""
    run = simulate(seed=seed, first_day=FIRST_DAY, weeks=1)
    rows: list[Row] = []
    last = run.start + days * 86_400 * SECOND
    for frame in run.logs.values():
        rows += [row for row in frame.drop("line").to_dicts() if row["t"] < last]
    rows.sort(key=lambda row: (row["t"], row["event"] != "over-end"))
    overs = []
    for row in rows:
        if row["event"] == "over-end":
            row["start"] = row["t"] - round(row["seconds"] * SECOND)
            overs.append({**row, "end": row["t"], "station": identity(row["station"])})
    overs.sort(key=lambda row: row["start"])
    return Book(rows, overs)


Writer = Callable[[Book, np.random.Generator], Iterator[str]]


@dataclass(frozen=True)
class Hand:
    """One invented host: how it writes."""

    name: str
    write: Writer
    zone: str = "UTC"  #: of stamps without an offset
    step_s: float = 0.0  #: how coarse its stamps and lengths are
    knowable: bool = (
        True  #: False where its words can't be known from outside, so that the learner must say that its fit is poor
    )


def local(us: int, zone: str = "UTC") -> dt.datetime:
    """The wall clock at an instant."""
    return from_us(us, ZoneInfo(zone))


@dataclass
class Score:
    """What came back, as shares of the true overs."""

    overs: int
    found: float = 0.0
    mode: float = 0.0
    slot: float = 0.0
    side: float = 0.0
    station: float = 0.0
    duration: float = 0.0
    mode_and_duration: float = 0.0
    extra: float = 0.0  #: overs that never were, as a share of the true ones
    wrong: list[str] = field(default_factory=list)


def read_back(reads: Reader, lines: list[str], around_us: int) -> pl.DataFrame:
    """The finished overs of a log, by the intake's own pairing."""
    read = reads.read(pl.Series(lines, dtype=pl.String), Carry(), around_us)
    return pair(nothing_open(), read.events).overs.filter(pl.col("end").is_not_null()).sort("start")


def score(hand: Hand, truth: list[Row], found: pl.DataFrame) -> Score:
    """Gives each true over the found one that starts nearest, of its own mode and slot where there is one."""
    wanted = truth
    starts = found["start"].to_numpy()
    rows = found.to_dicts()
    free = np.ones(len(rows), dtype=np.bool_)
    slack = (1.1 + 2 * hand.step_s) * SECOND
    right = {key: 0 for key in ("found", "mode", "slot", "side", "station", "duration", "both")}
    wrong: list[str] = []
    for row in wanted:
        low, high = (
            np.searchsorted(starts, row["start"] - slack),
            np.searchsorted(starts, row["start"] + slack, side="right"),
        )
        near = [i for i in range(low, high) if free[i]]
        if not near:
            wrong.append(f"not found: {row}")
            continue
        best = min(
            near,
            key=lambda i: (
                rows[i]["mode"] != row["mode"],
                rows[i]["slot"] != row["slot"],
                abs(rows[i]["start"] - row["start"]),
            ),
        )
        free[best] = False
        got = rows[best]
        right["found"] += 1
        for key in ("mode", "slot", "side", "station"):
            right[key] += got[key] == row[key]
        lasts = abs((got["end"] - got["start"]) - (row["end"] - row["start"])) <= (0.06 + hand.step_s) * SECOND
        right["duration"] += lasts
        right["both"] += lasts and got["mode"] == row["mode"]
        if len(wrong) < 20 and not (lasts and got["mode"] == row["mode"]):
            wrong.append(f"{row} != {got}")
    n = max(1, len(wanted))
    shares = {key: count / n for key, count in right.items()}
    both = shares.pop("both")
    return Score(len(wanted), **shares, mode_and_duration=both, extra=float(free.sum()) / n, wrong=wrong)
