"""Invented groups whose timers make no difference, and groups whose timers do: what a suggestion is asked about, with
the truth known.
"""

import numpy as np
import numpy.typing as npt

from server.analytics.replay_curves import HOLDS, Curve, Point
from server.analytics.suggestion import suggest

DAYS, RATES, SPREADS, SHARED = (14, 28, 56), (0.5, 3.0, 10.0), (1.0, 3.0), (0.0, 0.8)
IN_FORCE = 20.0


def counts(rng: np.random.Generator, rate: float, days: int, spread: float) -> npt.NDArray[np.float64]:
    """Counts of so many days, whose variance is `spread` times their mean."""
    if rate == 0:
        return np.zeros(days)
    found = rng.poisson(rate, days) if spread == 1 else rng.negative_binomial(rate / (spread - 1), 1 / spread, days)
    return found.astype(np.float64)


def group(
    rng: np.random.Generator, days: int, rate: float, spread: float, shared: float, better: float = 0.0
) -> tuple[Curve, ...]:
    """Four modes and thirteen holds each. On each day every hold has `shared` of its callers with the other holds of
    its mode and the rest by chance of its own; the first mode's 10 s has the share `better` fewer.
    """
    none = np.zeros(days)

    def point(hold: float, shut_outs: npt.NDArray[np.float64]) -> Point:
        return Point(hold, shut_outs, none, none, none, none, 0, 0, 0)

    curves = []
    for mode in range(4):
        common = counts(rng, rate * shared, days, spread)
        rates = {hold: rate * (1 - shared) for hold in HOLDS}
        points = []
        for hold in HOLDS:
            daily = common + counts(rng, rates[hold], days, spread)
            if better and mode == 0 and hold == 10.0:
                daily = rng.binomial(daily.astype(np.int64), 1 - better).astype(np.float64)
            points.append(point(hold, daily))
        in_force = next(one for one in points if one.hold_s == IN_FORCE)
        curves.append(Curve(mode, in_force, tuple(points), 400))
    return tuple(curves)


def spoken(trials: int, better: float = 0.0, seed: int = 20262) -> tuple[int, int]:
    """In how many of so many groups of each kind a change was suggested, and how many groups there were."""
    rng = np.random.default_rng(seed)
    found = total = 0
    for days in DAYS:
        for rate in RATES:
            for spread in SPREADS:
                for shared in SHARED:
                    for _ in range(trials):
                        total += 1
                        found += suggest(group(rng, days, rate, spread, shared, better)).change is not None
    return found, total
