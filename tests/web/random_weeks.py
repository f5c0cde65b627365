"""Weeks at random, from nothing seen to busy: their figures, and those of the weeks before them."""

from dataclasses import dataclass, replace

import numpy as np

from server.analytics.compare import CHANNEL
from server.analytics.figure_types import Figures, LineCounts
from server.analytics.figures import figures
from server.analytics.overruns import Overrun
from server.telling.verdict import WeekFacts
from server.web.source import Sums, WeekBefore
from server.web.week.comparison import beside
from shared.events import MODES
from shared.zones import SECOND
from tests.analytics.analytics_world import LONDON, STATIONS, TARGETS, Lost, Over, Refused, Rules, World

WEEK = 7 * 24 * 7200  # ticks of half a second


@dataclass(frozen=True)
class RandomWeek:
    """A week's facts as its page has them."""

    facts: WeekFacts
    seen: float


def world(rng: np.random.Generator) -> World:
    """Few overs or many, in few modes or all, some of them long; refusals near their ends; parts of the week or all of
    it unseen.
    """
    modes = [str(mode) for mode in rng.choice(MODES, size=rng.integers(1, 5), replace=False)]
    rules = Rules(360, {"default": 40})
    overs = []
    for start in np.sort(rng.integers(0, WEEK - 8000, rng.choice([0, 1, 2, 9, 60, 400]))).tolist():
        mode = str(rng.choice(modes))
        length = int(rng.choice([2, 40, 41, 330, 359, 362, 7000], p=[0.1, 0.35, 0.35, 0.05, 0.05, 0.05, 0.05]))
        cause = "timeout" if length == 362 and rng.random() < 0.5 else None if length == 359 else "released"
        slot = int(rng.integers(1, 3)) if mode == "dmr" else 0
        side, station = ("air", "link")[int(rng.integers(2))], (*STATIONS, None)[int(rng.integers(4))]
        overs.append(Over(start, start + length, mode, slot, side, station, str(rng.choice(TARGETS)), cause))
    refused = [
        Refused(
            over.end + int(rng.integers(0, 60)), str(rng.choice(modes)), "air", str(rng.choice(STATIONS)), "other-mode"
        )
        for over in overs
        if rng.random() < 0.1
    ]
    lost = [Lost(int(rng.integers(0, WEEK)), None, modes[0]) for _ in range(int(rng.choice([0, 0, 1, 3])))]
    blind = {0: [], 1: [(0, WEEK)], 2: [(0, int(rng.integers(1, WEEK)))], 3: [(WEEK // 2, WEEK // 2 + 3000)]}[
        int(rng.integers(4))
    ]
    if blind == [(0, WEEK)]:
        overs, refused, lost = [], [], []
    return World(overs, refused, lost, blind, rules, (0, WEEK))


def week(seed: int) -> RandomWeek:
    """The week of a seed."""
    rng = np.random.default_rng(seed)
    made = world(rng)
    lines = int(rng.choice([0, 1, 7, 2_000])) if made.blind == [(0, WEEK)] else int(rng.choice([1, 7, 2_000, 54_321]))
    unread = int(rng.choice([0, 1, lines // 2])) if lines else 0
    intake = LineCounts(lines, lines - unread, unread=unread)
    timers = made.rules.timers()
    found = figures(made.activity(), made.window_us, timers, LONDON, "QB0BFR", intake)
    seen = found.window.seen_share
    so_far = bool(rng.random() < 0.2)
    before = [] if so_far else _before(rng, found, made.window_us[0])
    airtime = {}
    if seen:
        airtime = {CHANNEL: found.channel.airtime_s or 0.0} | {
            mode: its.airtime_s or 0.0 for mode, its in found.modes.items()
        }
        airtime |= {mode: 0.0 for past in before for mode in past.sums if mode not in airtime}
    longest = max(made.overs, key=lambda over: over.end - over.start, default=None)
    facts = WeekFacts(
        found,
        LONDON,
        timers.timeout_s,
        {mode: beside(value, seen, before, mode, lambda sums: sums.airtime_s) for mode, value in airtime.items()},
        beside(found.attempts_shut_out or 0, seen, before, CHANNEL, lambda sums: sums.shut_outs),
        None if longest is None else Overrun(longest.mode, made.us(longest.start), (longest.end - longest.start) / 2),
        so_far,
        nothing_read=not seen and not lines and bool(rng.random() < 0.5),
    )
    return RandomWeek(facts, seen)


def _before(rng: np.random.Generator, found: Figures, start: int) -> list[WeekBefore]:
    """So many weeks, like this one or other."""
    scale = float(rng.choice([0.2, 1.0, 5.0]))
    weeks = []
    for back in range(int(rng.choice([0, 3, 5, 13]))):
        wobble = scale * (1 + 0.1 * float(rng.normal()))
        sums = {mode: Sums((its.airtime_s or 0.0) * max(0.0, wobble)) for mode, its in found.modes.items()}
        if rng.random() < 0.5:
            sums["p25"] = Sums(900.0 * scale)
        sums[CHANNEL] = Sums(sum(its.airtime_s for its in sums.values()), float(rng.integers(0, 9)))
        span = 7 * 86_400 * SECOND
        weeks.append(
            WeekBefore(start - (back + 1) * span, start - back * span, float(rng.choice([1.0, 1.0, 0.7, 0.2])), sums)
        )
    return weeks


__all__ = ["RandomWeek", "replace", "week"]
