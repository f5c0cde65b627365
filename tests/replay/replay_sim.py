"""One repeater shared by several modes as a discrete-event simulation (simpy), with demand that is known and does not
change with the timers.

Who calls when, how long each over and pause lasts, how often and after how long a refused caller tries again: all is
drawn before, so that one demand can be run under any hold. Callers who are refused come back as often as their patience
lets them, then give up."""

from collections.abc import Generator
from dataclasses import dataclass, field

import numpy as np
import simpy

from server.analytics.activity import Activity, Overs, Refusals, Unfinished
from shared.events import MODES
from shared.timers import Timers
from shared.zones import SECOND

DAY_S = 86_400
Process = Generator[simpy.Event, None, None]
#: Calls a week of each mode at the busiest; the shape of the day is common practice, no source.
CALLS_A_WEEK = {"dstar": 95, "dmr": 130, "c4fm": 70, "fm": 45}
HOURS = np.array([1, 1, 1, 1, 1, 2, 5, 9, 8, 6, 5, 5, 6, 5, 5, 6, 8, 11, 14, 16, 15, 11, 6, 3], dtype=float)


@dataclass(frozen=True)
class Call:
    """One wish to talk: overs (seconds, station, pause before), and what a refused caller does: wait so long, time and
    again.
    """

    at: float
    mode: str
    overs: tuple[tuple[float, int, float], ...]
    retries: tuple[float, ...]


def demand(seed: int, days: int = 7, busyness: float = 1.0, trend: float = 0.0, first_day: int = 0) -> list[Call]:
    """The calls of so many days. `trend` is the relative growth a week; weekends are busier."""
    rng = np.random.default_rng(seed)
    calls: list[Call] = []
    for day in range(days):
        weight = (
            busyness
            * (1.3 if (first_day + day) % 7 in (5, 6) else 0.88)
            * (1 + trend * day / 7)
            * rng.lognormal(0, 0.15)
        )
        for mode, a_week in CALLS_A_WEEK.items():
            for _ in range(rng.poisson(a_week / 7 * weight)):
                hour = rng.choice(24, p=HOURS / HOURS.sum())
                calls.append(_call(rng, day * DAY_S + hour * 3600 + rng.uniform(0, 3600), mode))
    return sorted(calls, key=lambda call: call.at)


def _call(rng: np.random.Generator, at: float, mode: str) -> Call:
    pair = rng.choice(60, size=2, replace=False)
    many = 1 if rng.random() < 0.25 else int(rng.geometric(0.14)) + 1
    overs = tuple(
        (
            float(np.clip(rng.lognormal(2.9, 0.7), 1.5, 170)),
            int(pair[turn % 2]),
            float(np.clip(rng.lognormal(0.7, 0.8), 0.3, 25)),
        )
        for turn in range(many)
    )
    tries = int(rng.integers(0, 4))
    return Call(at, mode, overs, tuple(float(rng.uniform(20, 120)) for _ in range(tries)))


@dataclass
class Channel:
    """Who holds it and until when; what the host logs; and the sum of idle hold that the simulation keeps for itself.
    Microseconds.
    """

    hold: dict[str, int]
    holder: str | None = None
    lets_go: int = 0
    overs: list[tuple[int, int, str, int]] = field(default_factory=list)
    refused: list[tuple[int, str, int]] = field(default_factory=list)
    idle: int = 0
    silent_from: int = 0

    def free_for(self, mode: str, now: int) -> bool:
        return self.holder in (None, mode) or now >= self.lets_go

    def take(self, mode: str, now: int, length: int) -> None:
        self.settle(now)
        self.holder, self.lets_go = mode, now + length + self.hold[mode]
        self.silent_from = now + length

    def settle(self, now: int) -> None:
        """Add the idle hold that the over before has had."""
        if self.holder is not None:
            self.idle += max(0, min(now, self.lets_go) - self.silent_from)


def _us(seconds: float) -> int:
    return round(seconds * SECOND)


def run(calls: list[Call], hold_s: dict[str, float], change: tuple[float, dict[str, float]] | None = None) -> Channel:
    """The channel after all calls; `change`, if any, is when (seconds) other holds come into force."""
    world, channel = simpy.Environment(), Channel({mode: _us(seconds) for mode, seconds in hold_s.items()})
    lanes = {
        mode: simpy.Resource(world) for mode in hold_s
    }  # one talk at a time in each mode: the others listen and wait

    def caller(call: Call) -> Process:
        yield world.timeout(_us(call.at))
        with lanes[call.mode].request() as turn:
            yield turn
            patience = iter(call.retries)
            for place, (seconds, station, pause) in enumerate(call.overs):
                if place:
                    yield world.timeout(_us(pause))
                while not channel.free_for(call.mode, world.now):
                    channel.refused.append((world.now, call.mode, station))
                    wait = next(patience, None)
                    if wait is None:
                        return
                    yield world.timeout(_us(wait))
                start, length = world.now, _us(seconds)
                channel.take(call.mode, start, length)
                channel.overs.append((start, start + length, call.mode, station))
                yield world.timeout(length)

    def switch(at: float, later: dict[str, float]) -> Process:
        yield world.timeout(_us(at))
        channel.hold.update({mode: _us(seconds) for mode, seconds in later.items()})

    for call in calls:
        world.process(caller(call))
    if change:
        world.process(switch(*change))
    world.run()
    channel.settle(channel.lets_go)
    return channel


def attempts(channel: Channel) -> list[int]:
    """When each attempt began: refusals of one mode and station less than 10 s after the one before are one."""
    last: dict[tuple[str, int], int] = {}
    found = []
    for t, mode, station in sorted(channel.refused):
        if t - last.get((mode, station), -(10**12)) >= 10 * SECOND:
            found.append(t)
        last[mode, station] = t
    return found


def activity(channel: Channel, base: int) -> Activity:
    """The log of it as columns; instants after `base`."""
    us = lambda values: base + np.array(list(values), dtype=np.int64)  # noqa: E731
    overs, refused = sorted(channel.overs), sorted(channel.refused)
    mode = lambda words: np.array([MODES.index(word) for word in words], dtype=np.int64)  # noqa: E731
    ints = lambda values: np.array(list(values), dtype=np.int64)  # noqa: E731
    n, none = len(overs), np.empty(0, dtype=np.int64)
    return Activity(
        Overs(
            us(o[0] for o in overs),
            us(o[1] for o in overs),
            mode(o[2] for o in overs),
            np.zeros(n, dtype=np.int64),
            np.zeros(n, dtype=np.int64),
            ints(o[3] for o in overs),
            np.full(n, -1, dtype=np.int64),
            np.zeros(n, dtype=np.int64),
            np.zeros(n, dtype=bool),
        ),
        Unfinished(none, none, none),
        Refusals(
            us(r[0] for r in refused),
            mode(r[1] for r in refused),
            np.zeros(len(refused), dtype=np.int64),
            ints(r[2] for r in refused),
            np.zeros(len(refused), dtype=np.int64),
        ),
        stations=tuple(f"QA1A{chr(65 + code // 26)}{chr(65 + code % 26)}" for code in range(60)),
    )


def timers(hold: dict[str, float], rest: float = 20.0) -> Timers:
    """The settings in force."""
    return Timers(180.0, (*(hold.get(mode, rest) for mode in MODES), rest), (0.0,) * 9, 1.0)
