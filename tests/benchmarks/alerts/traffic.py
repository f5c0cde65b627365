"""Station-years of traffic: weeks of the project's simulator (server.demo), drawn with replacement and moved to other
dates.

The simulator takes about ten seconds a station-year, so a pool of its weeks is made once and each station-year is a
bootstrap of it: every week keeps its own overs, lines, carriers and link losses, and its local clock, over both clock
changes. Stations differ in how busy they are (stretches of ten minutes are left out at random) and in their seed."""

import datetime as dt
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from server.alerts.history import OVER_COLUMNS, Bools, History
from server.alerts.limits import MINUTE, Limits
from server.analytics.activity import Ints
from server.demo.simulate import simulate
from server.demo.world import TAIL_S, TIMEOUT_S
from server.intake.pairing import nothing_open, pair
from shared.events import MODES, SIDES
from shared.zones import DAY, HOUR, SECOND, to_us

ZONE = ZoneInfo("Europe/London")
LIMITS = Limits(ZONE, TIMEOUT_S * SECOND)  # everything else as a new keeper has it
WEEK = 7 * DAY
WARM_WEEKS, YEAR_WEEKS = 14, 52
TAILS = np.array([TAIL_S.get(mode, TAIL_S["default"]) for mode in (*MODES, "default")], dtype=np.int64) * SECOND


@dataclass
class Piece:
    """One week: instants are local wall clock microseconds since its Monday."""

    overs: dict[str, Ints]
    lines: dict[str, Ints]
    carriers: Ints
    links: dict[str, tuple[Ints, Bools]] = field(default_factory=dict)


def pool(seeds: range, weeks: int, first_day: dt.date = dt.date(2026, 1, 5)) -> list[Piece]:
    """`weeks` weeks of each seed, without incidents."""
    pieces: list[Piece] = []
    for seed in seeds:
        run = simulate(seed, first_day, weeks, incidents=False)
        overs = pair(nothing_open(), run.logs["host"]).overs.filter(pl.col("end").is_not_null()).sort("start")
        people = {name: number for number, name in enumerate(overs["station"].drop_nulls().unique().sort().to_list())}
        columns = {
            "start": _ints(overs["start"]),
            "end": _ints(overs["end"]),
            "mode": _ints(
                overs["mode"].cast(pl.String).replace_strict(list(MODES), list(range(len(MODES))), default=-1)
            ),
            "slot": _ints(overs["slot"].fill_null(0)),
            "side": _ints(
                overs["side"].cast(pl.String).replace_strict(list(SIDES), list(range(len(SIDES))), default=-1)
            ),
            "station": np.array([people.get(name, -1) for name in overs["station"].to_list()], dtype=np.int64),
        }
        lines = {box: _local(_ints(log["t"])) for box, log in run.logs.items()}
        host, wires = run.logs["host"], run.logs["links"]
        carriers = _local(_ints(host.filter(pl.col("event") == "carrier-up")["t"]))
        changes = wires.filter(pl.col("event").is_in(["link-up", "link-down"])).select(
            "t", pl.col("event").cast(pl.String), "network"
        )
        length = columns["end"] - columns["start"]
        columns["start"] = _local(columns["start"])
        columns["end"] = columns["start"] + length
        monday = int(_local(np.array([run.start], dtype=np.int64))[0])
        for week in range(weeks):
            low, high = monday + week * WEEK, monday + (week + 1) * WEEK
            ends = _utc(np.array([low, high], dtype=np.int64))
            if (
                ends[1] - ends[0] != WEEK
            ):  # a week with a clock change has an hour too few or too many to be put elsewhere
                continue
            inside = (columns["start"] >= low) & (columns["start"] < high)
            links = {}
            for (network,), rows in changes.group_by("network"):
                instants = _local(_ints(rows["t"]))
                kept = (instants >= low) & (instants < high)
                links[str(network)] = (instants[kept] - low, (rows["event"] == "link-up").to_numpy()[kept])
            pieces.append(
                Piece(
                    {
                        name: column[inside] - (low if name in ("start", "end") else 0)
                        for name, column in columns.items()
                    },
                    {box: stamps[(stamps >= low) & (stamps < high)] - low for box, stamps in lines.items()},
                    carriers[(carriers >= low) & (carriers < high)] - low,
                    links,
                )
            )
    return pieces


def _ints(column: pl.Series) -> Ints:
    return column.cast(pl.Int64).to_numpy().astype(np.int64)


def _local(instants: Ints) -> Ints:
    return instants + LIMITS.offsets(instants)


def _utc(local: Ints) -> Ints:
    """The instants of a local wall clock; in the hour that comes twice, the second one."""
    return local - LIMITS.offsets(local - LIMITS.offsets(local))


def _lines(local: Ints) -> Ints:
    """The instants of lines; those of the hour that comes twice are written in both."""
    second = _utc(local)
    twice = second[LIMITS.offsets(second - HOUR) - LIMITS.offsets(second) == HOUR]
    return np.concatenate([second, twice - HOUR])


@dataclass
class Year:
    """A station-year that can still be changed; `begun` is where it starts after 14 weeks that only teach what is
    usual.
    """

    begun: int
    end: int
    overs: dict[str, np.ndarray]  # type: ignore[type-arg]
    lines: dict[str, Ints]
    carriers: Ints
    links: dict[str, tuple[Ints, Bools]]
    stops: list[tuple[int, int]] = field(default_factory=list)  #: when the host was stopped and started again

    def keep(self, mask: Bools) -> None:
        self.overs = {name: column[mask] for name, column in self.overs.items()}

    def add(self, start: Ints, end: Ints, mode: int, slot: int, side: int, station: Ints, whole: bool = False) -> None:
        """More overs, with the lines that tell of them."""
        fresh = {"start": start, "end": end, "station": station, "whole": np.full(len(start), whole)}
        fresh |= {name: np.full(len(start), value) for name, value in (("mode", mode), ("slot", slot), ("side", side))}
        self.overs = {name: np.concatenate([column, fresh[name]]) for name, column in self.overs.items()}
        told = [end] if whole else [start, end]
        self.lines["host"] = np.concatenate([self.lines["host"], *told])

    def history(self) -> History:
        """As the rules take it."""
        order = np.argsort(self.overs["start"], kind="stable")
        overs = {name: column[order] for name, column in self.overs.items()}
        stops = np.array([edge for stop in sorted(self.stops) for edge in stop], dtype=np.int64)
        return History(
            **{name: overs[name] for name in OVER_COLUMNS if name not in ("told", "tail", "lost", "counted")},
            told=overs["end"],
            tail=TAILS[overs["mode"]],
            lost=np.zeros(len(order), dtype=np.bool_),
            counted=np.ones(len(order), dtype=np.bool_),
            carriers=np.sort(self.carriers),
            links=self.links,
            hosts={"host": (stops, np.arange(len(stops)) % 2 == 1)},
            lines={box: np.sort(stamps) for box, stamps in self.lines.items()},
        )


def station_year(rng: np.random.Generator, pieces: list[Piece], monday: dt.date = dt.date(2026, 9, 28)) -> Year:
    """Fourteen weeks and a year from the local midnight of `monday` on, of a station of its own busyness."""
    weeks = WARM_WEEKS + YEAR_WEEKS
    first = to_us(dt.datetime(monday.year, monday.month, monday.day, tzinfo=dt.UTC))
    busy = float(rng.uniform(0.25, 1.0))
    parts = [(first + week * WEEK, pieces[int(rng.integers(len(pieces)))]) for week in range(weeks)]
    overs: dict[str, np.ndarray] = {}  # type: ignore[type-arg]
    kept = []
    for _, piece in parts:
        blocks = rng.random(WEEK // (10 * MINUTE) + 1) < busy
        kept.append(blocks[piece.overs["start"] // (10 * MINUTE)])
    for name in ("start", "end", "mode", "slot", "side", "station"):
        moved = name in ("start", "end")
        overs[name] = np.concatenate(
            [p.overs[name][k] + (at if moved else 0) for (at, p), k in zip(parts, kept, strict=True)]
        )
    length = overs["end"] - overs["start"]
    overs["start"] = _utc(overs["start"])
    overs["end"] = overs["start"] + length
    overs["whole"] = np.zeros(len(length), dtype=np.bool_)
    boxes, networks = list(pieces[0].lines), sorted({name for _, piece in parts for name in piece.links})
    none = (np.empty(0, dtype=np.int64), np.empty(0, dtype=np.bool_))
    links = {}
    for name in networks:
        instants = _utc(np.concatenate([piece.links.get(name, none)[0] + at for at, piece in parts]))
        back = np.concatenate([piece.links.get(name, none)[1] for _, piece in parts])
        order = np.argsort(instants, kind="stable")
        links[name] = (instants[order], back[order])
    edges = _utc(np.array([first + WARM_WEEKS * WEEK, first + weeks * WEEK], dtype=np.int64))
    return Year(
        begun=int(edges[0]),
        end=int(edges[1]),
        overs=overs,
        lines={box: _lines(np.concatenate([piece.lines[box] + at for at, piece in parts])) for box in boxes},
        carriers=_utc(np.concatenate([piece.carriers + at for at, piece in parts])),
        links=links,
    )
