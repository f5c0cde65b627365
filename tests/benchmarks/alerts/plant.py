"""What is planted into a station-year, with its label: faults that must be found, and things that are none."""

from dataclasses import dataclass

import numpy as np

from server.alerts.incident import mode_subject
from server.alerts.limits import MINUTE
from shared.events import MODES
from shared.zones import DAY, HOUR, SECOND
from tests.benchmarks.alerts.traffic import Year

FM, DMR, DSTAR = (MODES.index(mode) for mode in ("fm", "dmr", "dstar"))
FAULTS = {"stuck, open": 6, "stuck, as duty": 6, "chatter": 3}  # a station-year
NO_FAULTS = {"long net": 6, "marathon contest": 2, "holiday": 2, "log gap": 4, "restart": 6}
CLEARANCE = 3 * HOUR  # between one planted thing and the next, so that each alert has one cause


@dataclass(frozen=True)
class Planted:
    """One planted thing."""

    kind: str
    start: int
    end: int
    subject: str = ""  #: of an over that stays open

    @property
    def is_fault(self) -> bool:
        return self.kind in FAULTS


def plant(rng: np.random.Generator, year: Year) -> list[Planted]:
    """Everything of FAULTS and NO_FAULTS, each at a time of its own."""
    lengths = {
        "marathon contest": (24 * HOUR, 48 * HOUR), "holiday": (10 * DAY, 14 * DAY), "long net": (2 * HOUR, 4 * HOUR),
        "log gap": (20 * MINUTE, 12 * HOUR), "restart": (MINUTE, 8 * MINUTE), "chatter": (2 * HOUR, 8 * HOUR),
        "stuck, open": (10 * MINUTE, 5 * HOUR), "stuck, as duty": (20 * MINUTE, 4 * HOUR),
    }  # fmt: skip
    planted: list[Planted] = []
    for kind in lengths:  # the longest first, so that all find their place; holidays may hold other things
        for _ in range({**FAULTS, **NO_FAULTS}[kind]):
            length = int(rng.uniform(*lengths[kind]))
            others = [one for one in planted if one.kind != "holiday" or kind == "holiday"]
            while True:
                start = int(rng.integers(year.begun + DAY, year.end - length - DAY)) // SECOND * SECOND
                if kind == "long net":
                    start = start // DAY * DAY + int(rng.uniform(18.5, 20.5) * HOUR)
                if all(start + length + CLEARANCE < one.start or start > one.end + CLEARANCE for one in others):
                    break
            planted.append(PLANTERS[kind](rng, year, start, start + length))
    return planted


def _clear(year: Year, start: int, end: int) -> None:
    """Nobody else comes in: the repeater is held."""
    year.keep((year.overs["start"] >= end) | (year.overs["end"] <= start))


def _stuck_open(rng: np.random.Generator, year: Year, start: int, end: int) -> Planted:
    mode, slot = [(DSTAR, 0), (DMR, 1), (DMR, 2), (FM, 0)][int(rng.integers(4))]
    if rng.random() < 0.7:
        _clear(year, start, end)
    year.keep(
        ~(
            (year.overs["mode"] == mode)
            & (year.overs["slot"] == slot)
            & (year.overs["end"] > start)
            & (year.overs["start"] < end)
        )
    )
    year.add(np.array([start]), np.array([end]), mode, slot, 0, np.array([-1]))
    return Planted("stuck, open", start, end, mode_subject(None if mode < 0 else MODES[mode], slot))


def _stuck_as_duty(rng: np.random.Generator, year: Year, start: int, end: int) -> Planted:
    """It keys again at once, whenever the host or its timer lets go: no single over is too long. Half of the hosts
    write whole overs.
    """
    _clear(year, start, end)
    lengths = (rng.uniform(20, 175, size=2000) * SECOND).astype(np.int64)
    gaps = (rng.uniform(0.02, 0.8, size=2000) * SECOND).astype(np.int64)
    starts = start + np.concatenate([[0], np.cumsum(lengths + gaps)[:-1]])
    inside = starts + lengths < end
    station = int(rng.choice([-1, 5]))
    year.add(
        starts[inside],
        (starts + lengths)[inside],
        FM if station < 0 else DMR,
        0,
        int(rng.integers(2)),
        np.full(inside.sum(), station),
        bool(rng.random() < 0.5),
    )
    return Planted("stuck, as duty", start, end)


def _chatter(rng: np.random.Generator, year: Year, start: int, end: int) -> Planted:
    starts = np.sort(rng.integers(start, end, size=rng.poisson(45 * (end - start) / HOUR)))
    year.add(
        starts,
        starts + (rng.uniform(0.1, 0.9, size=len(starts)) * SECOND).astype(np.int64),
        FM,
        0,
        0,
        np.full(len(starts), -1),
    )
    return Planted("chatter", start, end)


def _talk(
    rng: np.random.Generator, year: Year, start: int, end: int, median_s: float, people: int, gap_s: float
) -> None:
    """People in turn, on DMR with its tails, until `end`."""
    count = int((end - start) / SECOND / 4)
    lengths = np.minimum(rng.lognormal(np.log(median_s), 0.7, size=count), 178) * SECOND
    gaps = gap_s * rng.lognormal(0, 0.5, size=count) * SECOND
    starts = start + np.concatenate([[0], np.cumsum(lengths + gaps)[:-1]]).astype(np.int64)
    inside = starts + lengths.astype(np.int64) < end
    near = (
        (year.overs["mode"] == DMR)
        & (year.overs["slot"] == 2)
        & (year.overs["end"] > start)
        & (year.overs["start"] < end)
    )
    year.keep(~near)
    speakers = 1000 + (np.cumsum(rng.integers(1, people, size=count)) % people)
    year.add(starts[inside], (starts + lengths.astype(np.int64))[inside], DMR, 2, 0, speakers[inside])


def _long_net(rng: np.random.Generator, year: Year, start: int, end: int) -> Planted:
    _talk(rng, year, start, end, 30, 15, 2.0)
    return Planted("long net", start, end)


def _contest(rng: np.random.Generator, year: Year, start: int, end: int) -> Planted:
    _talk(rng, year, start, end, 7, 60, 1.3)
    return Planted("marathon contest", start, end)


def _holiday(rng: np.random.Generator, year: Year, start: int, end: int) -> Planted:
    blocks = rng.random((end - start) // (10 * MINUTE) + 2) < 0.2
    away = (year.overs["start"] >= start) & (year.overs["start"] < end)
    place = np.where(away, (year.overs["start"] - start) // (10 * MINUTE), 0)
    year.keep(~away | blocks[place])
    return Planted("holiday", start, end)


def _log_gap(rng: np.random.Generator, year: Year, start: int, end: int) -> Planted:
    """Nothing is written; the end of an over that was on is lost, so that it is open to the next event on its key."""
    o = year.overs
    year.keep((o["start"] < start) | (o["start"] >= end))
    o = year.overs
    for place in np.flatnonzero((o["start"] < start) & (o["end"] >= start)):
        after = (
            (o["mode"] == o["mode"][place])
            & (o["slot"] == o["slot"][place])
            & (o["side"] == o["side"][place])
            & (o["start"] >= end)
        )
        o["end"][place] = int(o["start"][after].min()) if after.any() else year.end
    year.lines = {box: stamps[(stamps < start) | (stamps >= end)] for box, stamps in year.lines.items()}
    year.carriers = year.carriers[(year.carriers < start) | (year.carriers >= end)]
    year.links = {
        name: (t[(t < start) | (t >= end)], up[(t < start) | (t >= end)]) for name, (t, up) in year.links.items()
    }
    return Planted("log gap", start, end)


def _restart(rng: np.random.Generator, year: Year, start: int, end: int) -> Planted:
    o = year.overs
    year.keep((o["start"] < start) | (o["start"] >= end))
    o = year.overs
    on = (o["start"] < start) & (o["end"] >= start)
    o["end"][on] = np.minimum(o["end"][on], start + 300_000)
    year.stops.append((start, end))
    year.lines["host"] = year.lines["host"][(year.lines["host"] < start) | (year.lines["host"] >= end)]
    return Planted("restart", start, end)


PLANTERS = {
    "stuck, open": _stuck_open, "stuck, as duty": _stuck_as_duty, "chatter": _chatter, "long net": _long_net,
    "marathon contest": _contest, "holiday": _holiday, "log gap": _log_gap, "restart": _restart,
}  # fmt: skip
