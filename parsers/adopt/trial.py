"""How well the traffic that a reading gives can be. The search weighs its readings by it, and the verdict on a dialect
is told by it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
#: Overs last so long in the middle, and their middle varies by such a factor's logarithm (demo traffic; no source).
USUAL_S, SPREAD = 12.0, 1.6
OVERLAP_S = 1.1  #: whole seconds in stamps make overs of one stream overlap by so much
ANSWER_S = 8.0  #: people answer so soon (demo traffic; no source)
LONGEST_S = 3600.0  #: an over that only stamps time is no over beyond an hour
#: What each term weighs; every term lies between 0 and 1.
WEIGHTS: Mapping[str, float] = {
    "covered": 4.0, "paired": 3.0, "alone": 3.0, "agreeing": 2.0, "mode": 3.0, "length": 1.0, "answers": 0.6,
    "in order": 1.0, "slot": 0.5, "side": 0.4, "station": 1.0, "target": 0.3, "cause": 0.2, "words": 1.2,
}  # fmt: skip


#: What a good reading must reach whatever else speaks for it, and what is said below that. A margin to other readings
#: is no proof: they may all be absurd.
FLOORS: Mapping[str, tuple[float, str]] = {
    "paired": (0.97, "{:.1%} of the overs lack their start or their end"),
    "consistent": (0.95, "{:.1%} of the overs don't fit their times or overlap"),
    "mode": (0.98, "{:.1%} of the overs have no mode"),
    "slots apart": (0.985, "{:.1%} of the DMR overs overlap, as where slots are not told apart"),
}
LEAST_OVERS = 30


@dataclass(frozen=True)
class Overs:
    """Finished overs, sorted by start, and what was left over."""

    start: Floats  #: seconds
    end: Floats
    stream: Ints  #: overs of one stream can't overlap
    fits: Bools  #: whether the length fits the stamps; true where there is nothing to compare
    left: int  #: starts without an end, and ends without start and length
    in_order: float = 1.0  #: share written no earlier than what they tell


@dataclass(frozen=True)
class Trial:
    """Named terms of what came out."""

    terms: Mapping[str, float]
    overs: int

    @property
    def total(self) -> float:
        return sum(weight * self.terms.get(name, 0.0) for name, weight in WEIGHTS.items()) if self.overs else 0.0

    def below(self) -> list[str]:
        """What keeps the traffic from being called good, in words."""
        terms = {name: (self.terms.get(name, 1.0), *floor) for name, floor in FLOORS.items()}
        says = [text.format(1 - share) for share, least, text in terms.values() if share < least]
        few = [f"only {self.overs} overs came out, too few to be sure of them"] if self.overs < LEAST_OVERS else []
        return says + few


def tried(overs: Overs, told: Mapping[str, float]) -> Trial:
    """The terms of some overs; `told` are shares that only who made them knows."""
    n = len(overs.start)
    if not n:
        return Trial(dict(told), 0)
    seconds = overs.end - overs.start
    middle = max(float(np.median(seconds)), 1e-3)
    fits, clear = overs.fits & (seconds <= LONGEST_S), alone(overs)
    terms = {
        "paired": n / (n + overs.left),
        "alone": float(clear.mean()),
        "agreeing": float(fits.mean()),
        "consistent": float((fits & clear).mean()),
        "length": float(np.exp(-((np.log(middle / USUAL_S) / SPREAD) ** 2) / 2)),
        "answers": answers(overs),
        "in order": overs.in_order,
    }
    return Trial(terms | dict(told), n)


def alone(overs: Overs) -> Bools:
    """Which overs begin after those before them on their stream ended."""
    if not len(overs.start):
        return np.ones(0, dtype=np.bool_)
    _, number = np.unique(overs.stream, return_inverse=True)
    order = np.argsort(number, kind="stable")
    far = float(overs.end.max() - overs.start.min()) + 10.0  # streams laid end to end: no over reaches the next one's
    begin, end = (times[order] - overs.start.min() + number[order] * far for times in (overs.start, overs.end))
    late = np.ones(len(order), dtype=np.bool_)
    late[1:] = begin[1:] >= np.maximum.accumulate(end)[:-1] - OVERLAP_S
    late[1:] |= number[order][1:] != number[order][:-1]
    out = np.empty(len(order), dtype=np.bool_)
    out[order] = late
    return out


def answers(overs: Overs) -> float:
    """The share of overs that begin soon after another one ended, on whichever stream."""
    if len(overs.start) < 2:
        return 0.0
    ends = np.sort(overs.end)
    before = np.searchsorted(ends, overs.start + OVERLAP_S, side="right") - 1
    pause = np.where(before >= 0, overs.start - ends[np.maximum(before, 0)], np.inf)
    return float((pause < ANSWER_S).mean())
