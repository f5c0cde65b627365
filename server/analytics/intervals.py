"""Intervals: Wilson's for a share, the score interval of a count, and the bootstrap over days (docs/definitions.md,
Intervals).
"""

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

LEVEL = 0.95
RESAMPLES = 2000
LEAST_DAYS = 7  # with fewer, nothing is said of how much other days would have differed
DISPERSION = 2.0  # variance over mean
SEED = 20261  # the same data gives the same interval
Z = NormalDist().inv_cdf(0.5 + LEVEL / 2)


@dataclass(frozen=True)
class Interval:
    """Both ends, in the unit of what it is an interval of."""

    low: float
    high: float


def wilson(hits: int, of: int) -> Interval | None:
    """The 95 % score interval of a share, E. B. Wilson 1927; None where nothing was tried. Raises ValueError where hits
    are not 0 to `of`.
    """
    if not 0 <= hits <= of:
        raise ValueError("a share has between none and all of its tries as hits")
    if of == 0:
        return None
    share, weight = hits / of, Z * Z / of
    middle = (share + weight / 2) / (1 + weight)
    half = Z / (1 + weight) * math.sqrt(share * (1 - share) / of + weight / (4 * of))
    return Interval(0.0 if hits == 0 else max(0.0, middle - half), 1.0 if hits == of else min(1.0, middle + half))


def count_interval(count: int, dispersion: float = 1.0) -> Interval:
    """The 95 % score interval of the mean of a count whose variance is φ times its mean (1: Poisson): n + φz²/2 ± z
    √(φn + φ²z²/4).
    """
    middle = count + dispersion * Z * Z / 2
    half = Z * math.sqrt(dispersion * count + (dispersion * Z) ** 2 / 4)
    return Interval(max(0.0, middle - half), middle + half)


def t_quantile(freedom: int) -> float:
    """The 97.5 % point of Student's t: Abramowitz and Stegun 26.7.5 (from memory, checked against scipy); within 1 %
    from 2 degrees of freedom on, 11 % at 1.

    Raises ValueError below one degree.
    """
    if freedom < 1:
        raise ValueError("Student's t needs a degree of freedom")
    z, f = Z, freedom
    terms = (
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160,
    )
    return float(z + sum(term / f ** (power + 1) for power, term in enumerate(terms)))


def resampled_totals(daily: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Totals of RESAMPLES draws of as many days as there are, with replacement; (days,) or (figures, days) in,
    (RESAMPLES, …) out.
    """
    days = daily.shape[-1]
    drawn = np.random.default_rng(SEED).multinomial(days, [1 / days] * days, size=RESAMPLES)
    return drawn.astype(np.float64) @ daily.T


def bootstrap(daily: npt.NDArray[np.float64]) -> Interval | None:
    """The 95 % interval of the total of daily values (days,), by resampling days; None below seven days.

    Percentiles of few days are too narrow, so they are taken further out, at Φ(∓ t √(n / (n − 1))) with Student's t of
    n − 1 degrees (T. Hesterberg, The American Statistician 69, 2015, the expanded percentile interval; from memory).
    """
    days = len(daily)
    if days < LEAST_DAYS:
        return None
    outer = NormalDist().cdf(-t_quantile(days - 1) * math.sqrt(days / (days - 1)))
    low, high = np.quantile(resampled_totals(daily), [outer, 1 - outer])
    return Interval(float(low), float(high))


def bootstrap_count(daily: npt.NDArray[np.float64]) -> Interval | None:
    """The same for counts: never narrower than that of counts which vary twice as much as chance, as calls that come in
    bouts do; so that days of none do not read as certainty, and few days not as many.
    """
    drawn = bootstrap(daily)
    if drawn is None:
        return None
    chance = count_interval(int(daily.sum()), DISPERSION)
    return Interval(min(drawn.low, chance.low), max(drawn.high, chance.high))
