"""Where a series of days steps to another level: optimal segmentation by squared error, and what one step amounts to.
Pure.

The same optimum as `ruptures` finds with its model l2 (a test holds both to it), without loading scipy for it.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
SIGMA = 1.482602218505602  #: MAD to standard deviation of a normal distribution
REACH = 28  # days on each side that a step is judged by
NEAR = 14  # days on each side that its size is taken from
OUTLYING = 3.0  # standard deviations beyond the running median


def segments(series: Floats, penalty: float, least: int) -> list[int]:
    """The starts of all segments but the first that make squared error + penalty a segment least; each of `least`
    values or more. Exact: dynamic programming over the last break (B. Jackson and others 2005, from memory).
    """
    n = len(series)
    sums, squares = (np.concatenate([[0.0], np.cumsum(part)]) for part in (series, series**2))
    best = np.full(n + 1, np.inf)
    best[0] = -penalty
    last = np.zeros(n + 1, dtype=np.int64)
    for end in range(least, n + 1):
        begins = np.arange(0, end - least + 1)
        within = squares[end] - squares[begins] - (sums[end] - sums[begins]) ** 2 / (end - begins)
        total = best[begins] + within + penalty
        last[end] = int(np.argmin(total))
        best[end] = total[last[end]]
    breaks: list[int] = []
    at = int(last[n])
    while at > 0:
        breaks.append(at)
        at = int(last[at])
    return breaks[::-1]


def noise_of(series: Floats) -> float:
    """The standard deviation of the noise around any steps, from the differences of neighbours."""
    steps = np.diff(series)
    return float(SIGMA * np.median(np.abs(steps - np.median(steps))) / math.sqrt(2)) if len(steps) else 0.0


def without_outliers(series: Floats, width: int = 7) -> Floats:
    """Values further from the running median than OUTLYING deviations brought back: a day or two of odd weather pulls
    no mean. A step stays where it is.
    """
    half = width // 2
    padded = np.concatenate([series[:half][::-1], series, series[-half:][::-1]])
    middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1)
    away = OUTLYING * max(float(SIGMA * np.median(np.abs(series - middle))), 1e-9)
    return np.clip(series, middle - away, middle + away)


@dataclass(frozen=True)
class Step:
    """A step at `place`, the index of the first value after it."""

    place: int
    first: int  #: the earliest and the latest place that fit the values nearly as well
    latest: int
    low: int  #: the values that it was judged by
    high: int
    sure: float  #: the step over its standard error where a steady drift is allowed for too


def steps(series: Floats, least: int = 7, floor: float = 1e-6) -> list[Step]:
    """The steps of a series that a drift does not explain, in order; those with less than `least` values on a side are
    none. Noise counts as no less than `floor`: values that are rounded or mostly alike would make a step of anything.
    """
    if len(series) < 2 * least:
        return []
    calm = without_outliers(series)
    noise = max(noise_of(calm), floor)
    places = segments(calm, 4 * noise**2 * math.log(len(series)), least)
    while places:
        bounds = [0, *places, len(series)]
        found = [
            _step(calm, at, low, high, least, floor) for low, at, high in zip(bounds, places, bounds[2:], strict=False)
        ]
        weakest = min(found, key=lambda step: step.sure)
        if weakest.sure >= 3.5:
            return found
        places.remove(places[found.index(weakest)])
    return []


def _step(series: Floats, at: int, low: int, high: int, least: int, floor: float) -> Step:
    """The step near a break, judged by what lies between its neighbours."""
    low, high = max(low, at - REACH), min(high, at + REACH)
    place, first, latest = _place(series[low:high], at - low)
    place, first, latest = place + low, first + low, latest + low
    lasts = min(place - low, high - place) >= least
    return Step(place, first, latest, low, high, _sureness(series[low:high], place - low, floor) if lasts else 0.0)


def _place(series: Floats, near: int, most: int = 7, margin: float = 3.84) -> tuple[int, int, int]:
    """The break of least squared error within `most` of a place, and the first and last that are nearly as good: by the
    95 % point of chi squared with one degree of freedom.
    """
    n = len(series)
    tried = np.arange(max(2, near - most), min(n - 2, near + most) + 1)
    sums = np.cumsum(series)
    # Squared error of two means, but for what is the same for all breaks.
    cost = -(sums[tried - 1] ** 2 / tried + (sums[-1] - sums[tried - 1]) ** 2 / (n - tried))
    best = int(np.argmin(cost))
    at = int(tried[best])
    parts = (series[:at] - series[:at].mean(), series[at:] - series[at:].mean())
    variance = max(float(np.concatenate(parts).var()), 1e-12)
    good = tried[cost <= cost[best] + margin * variance]
    return at, int(good.min()), int(good.max())


def _dependence(residuals: Floats) -> float:
    """By how much the standard error of a mean grows because neighbours are alike (an autoregression of one day)."""
    square = float((residuals**2).sum())
    alike = float((residuals[1:] * residuals[:-1]).sum()) / square if square > 0 else 0.0
    alike = min(max(alike, 0.0), 0.8)
    return math.sqrt((1 + alike) / (1 - alike))


def _sureness(series: Floats, place: int, floor: float) -> float:
    """A step over its standard error in a least-squares fit of level, drift and step."""
    n = len(series)
    day = np.arange(n, dtype=np.float64)
    design = np.stack([np.ones(n), day - day.mean(), (day >= place).astype(np.float64)], axis=1)
    fit, *_ = np.linalg.lstsq(design, series, rcond=None)
    residuals = series - design @ fit
    inverse = np.linalg.inv(design.T @ design)
    variance = max(float((residuals**2).sum()) / max(1, n - 3), floor**2)
    return abs(float(fit[2])) / math.sqrt(variance * inverse[2, 2]) / _dependence(residuals)
