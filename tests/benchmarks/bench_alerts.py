"""Alerts against planted faults over simulated station-years: detection, delay, and what was raised without cause.

Short form: two station-years. Whole: 200, on the processors there are. Written by `python -m tests.benchmarks alerts`.
"""

import os
import time
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import cache
from itertools import repeat

import numpy as np

from server.alerts.engine import replay
from server.alerts.incident import Incident
from server.alerts.limits import MINUTE
from shared.zones import HOUR, SECOND
from tests.benchmarks.alerts.plant import FAULTS, NO_FAULTS, Planted, plant
from tests.benchmarks.alerts.traffic import LIMITS, Piece, pool, station_year

STATION_YEARS, SHORT_YEARS = 200, 2
POOL, SHORT_POOL = (range(1, 9), 26), (range(1, 2), 13)  # seeds, and weeks of each
AFTER = HOUR + 10 * MINUTE  # a fault is in the shares of the hour after it, too
GOALS = {"stuck, open": LIMITS.timeout + 15 * SECOND, "stuck, as duty": 10 * MINUTE}
#: Which rules may rightly speak of what.
MAY = {
    "stuck, open": ("over-runs-on", "duty", "unlike-itself"),
    "stuck, as duty": ("duty", "unlike-itself"),
    "chatter": ("chatter",),
    "log gap": ("gone-silent",),
    "restart": ("gone-silent",),
}


@dataclass
class Score:
    """Counts over any number of station-years."""

    years: int = 0
    planted: Counter[str] = field(default_factory=Counter)
    #: kind -> microseconds from the fault's start, of those found
    delays: dict[str, list[int]] = field(default_factory=dict)
    raised: Counter[str] = field(default_factory=Counter)  #: rule -> incidents
    without_cause: Counter[str] = field(default_factory=Counter)
    night_alerts: Counter[str] = field(default_factory=Counter)  #: rule -> urgent ones without cause in the quiet hours
    #: (rule, what was planted there) of urgent ones without cause
    beside: Counter[tuple[str, str]] = field(default_factory=Counter)

    def add(self, other: "Score") -> None:
        self.years += other.years
        for name in ("planted", "raised", "without_cause", "night_alerts", "beside"):
            getattr(self, name).update(getattr(other, name))
        for kind, delays in other.delays.items():
            self.delays.setdefault(kind, []).extend(delays)


def score(found: Sequence[Incident], planted: Sequence[Planted]) -> Score:
    """One station-year against its labels."""
    result = Score(1, Counter(one.kind for one in planted))
    for one in planted:
        if one.is_fault:
            delay = _delay(found, one)
            if delay is not None:
                result.delays.setdefault(one.kind, []).append(delay)
    for incident in found:
        result.raised[incident.rule] += 1
        if any(_is_cause(one, incident) for one in planted):
            continue
        result.without_cause[incident.rule] += 1
        if incident.urgent and LIMITS.quiet_at(incident.raised):
            result.night_alerts[incident.rule] += 1
        if incident.urgent:
            near = [one.kind for one in planted if one.start <= incident.raised < one.end + AFTER and not one.is_fault]
            result.beside[incident.rule, near[0] if near else "everyday traffic"] += 1
    return result


def _delay(found: Sequence[Incident], fault: Planted) -> int | None:
    """From the fault's start to the first alert that tells of it while it lasts."""
    if fault.kind == "stuck, open":
        mine = [one.raised for one in found if one.rule == "over-runs-on" and one.subject == fault.subject]
    else:
        mine = [one.raised for one in found if one.rule in MAY[fault.kind] and (one.urgent or fault.kind == "chatter")]
    inside = [raised - fault.start for raised in mine if fault.start <= raised < fault.end]
    return min(inside, default=None)


def _is_cause(planted: Planted, incident: Incident) -> bool:
    return incident.rule in MAY.get(planted.kind, ()) and planted.start <= incident.raised < planted.end + AFTER


def measure(seed: int, pieces: list[Piece]) -> Score:
    """One station-year: made, planted, replayed, held against its labels."""
    rng = np.random.default_rng([2026, seed])
    year = station_year(rng, pieces)
    planted = plant(rng, year)
    return score(replay(year.history(), year.begun, year.end, LIMITS), planted)


@cache
def _pieces(full: bool) -> list[Piece]:
    return pool(*(POOL if full else SHORT_POOL))


def _measure_in_process(seed: int, full: bool) -> Score:
    return measure(seed, _pieces(full))


def run(full: bool, years: int | None = None) -> str:
    """A Markdown section."""
    count = years or (STATION_YEARS if full else SHORT_YEARS)
    begun = time.monotonic()
    pieces = _pieces(full)
    made = time.monotonic()
    total = Score()
    if full and (os.cpu_count() or 1) > 1:
        with ProcessPoolExecutor(os.cpu_count()) as workers:  # forked: the pool of weeks is there already
            for one in workers.map(_measure_in_process, range(count), repeat(full), chunksize=4):
                total.add(one)
    else:
        for seed in range(count):
            total.add(measure(seed, pieces))
    return _section(total, len(pieces), made - begun, time.monotonic() - made)


def _section(total: Score, weeks: int, pool_s: float, run_s: float) -> str:
    plants = ", ".join(f"{n} {kind}" for kind, n in {**FAULTS, **NO_FAULTS}.items())
    lines = [
        "# Alerts: planted faults in simulated station-years",
        "",
        (
            f"{total.years} station-years, each a bootstrap of {weeks} weeks of the project's simulator ({pool_s:.0f} s"
            " to make) with 14 weeks before it to learn from; both clock changes in each; default settings, time-out"
            f" {LIMITS.timeout // SECOND} s. Planted in each: {plants}. {run_s:.0f} s of replay in all."
        ),
        "",
        "| planted | how many | found | median delay | worst delay | within the goal |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for kind in FAULTS:
        delays = np.array(total.delays.get(kind, []), dtype=np.int64)
        goal = GOALS.get(kind)
        within = "no goal" if goal is None else f"{int((delays <= goal).sum())} (goal {goal / SECOND:.0f} s)"
        seconds = (
            (f"{np.median(delays) / SECOND:.0f} s", f"{delays.max() / SECOND:.0f} s") if len(delays) else ("–", "–")
        )
        share = len(delays) / total.planted[kind]
        lines.append(
            f"| {kind} | {total.planted[kind]} | {len(delays)} ({share:.2%}) | {seconds[0]} | {seconds[1]} | {within} |"
        )
    lines += [
        "",
        "| rule | raised a station-year | without cause | of those urgent and in the quiet hours |",
        "| --- | --- | --- | --- |",
    ]
    for rule in sorted(total.raised):
        per = [counter[rule] / total.years for counter in (total.raised, total.without_cause, total.night_alerts)]
        lines.append(f"| {rule} | {per[0]:.2f} | {per[1]:.2f} | {per[2]:.3f} |")
    night = sum(total.night_alerts.values()) / total.years
    lines.append(
        f"| all | {sum(total.raised.values()) / total.years:.2f} |"
        f" {sum(total.without_cause.values()) / total.years:.2f} | **{night:.3f}** (goal under 1) |"
    )
    lines += ["", "Urgent alerts without cause, by what was planted there:", ""]
    lines += [
        f"- {rule}, {where}: {count / total.years:.3f} a station-year"
        for (rule, where), count in sorted(total.beside.items())
    ] or ["- none"]
    return "\n".join(lines)
