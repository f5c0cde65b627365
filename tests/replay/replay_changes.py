"""Simulated changes of a timer, with the true step known."""

import numpy as np

from server.analytics.before_after import Change, compare
from shared.zones import DAY
from tests.replay.replay_sim import CALLS_A_WEEK, DAY_S, attempts, demand, run

WEEKS = 8
FROM, TO = 60.0, 5.0


def days_around(weeks: int = WEEKS) -> np.ndarray:
    return np.array([n for n in range(-7 * weeks, 7 * weeks + 1) if n])


def daily(instants: list[int], days: int) -> np.ndarray:
    return np.bincount(np.array(instants, dtype=np.int64) // DAY, minlength=days)[:days].astype(float)


def simulated_change(seed: int, busyness: float = 2.5) -> tuple[Change, float]:
    """What the comparison says of one simulated change of every mode's hold, and the true step: the mean over the days
    after the change of what the same demand would have met under the old hold, less what it met.
    """
    days = 14 * WEEKS + 1
    calls = demand(seed, days, busyness, trend=0.02)
    old, new = (dict.fromkeys(CALLS_A_WEEK, hold) for hold in (FROM, TO))
    at = 7 * WEEKS * DAY_S
    happened = daily(attempts(run(calls, old, (at, new))), days)
    otherwise = daily(attempts(run(calls, old)), days)
    kept = np.arange(days) != 7 * WEEKS
    found = compare(days_around(), happened[kept], np.ones(days - 1, dtype=bool))
    assert found is not None
    after = slice(7 * WEEKS + 1, None)
    return found, float((happened - otherwise)[after].mean())


def changes_held(changes: int) -> tuple[int, int, float]:
    """Of so many simulated changes: the right sign, the true step within the interval, the interval's mean width."""
    right = held = 0
    widths = []
    for seed in range(changes):
        found, true = simulated_change(1000 + seed)
        right += found.step * true > 0
        held += found.interval.low <= true <= found.interval.high
        widths.append(found.interval.high - found.interval.low)
    return right, held, float(np.mean(widths))


def drawn_change(rng: np.random.Generator, step: float, level: float = 22.0, weeks: int = WEEKS) -> Change:
    """Daily counts straight from a model: weekdays, a trend, weeks of different mood, Poisson chance, and a step at the
    change.
    """
    days = days_around(weeks)
    weekday = np.where(np.mod(days, 7) >= 5, 1.3, 0.88)
    mood = rng.lognormal(0, 0.06, size=2 * weeks + 2)[days // 7 + weeks]
    mean = (level + 0.3 * days / 7) * weekday * mood + step * (days > 0)
    found = compare(days, rng.poisson(np.maximum(mean, 0)).astype(float), np.ones(len(days), dtype=bool))
    assert found is not None
    return found
