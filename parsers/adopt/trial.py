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


@dataclass(frozen=True)
class Overs:
    """Finished overs, sorted by start, and what was left over."""

    start: Floats  #: seconds
    end: Floats
    stream: Ints  #: overs of one stream can't overlap
    agreeing: float  #: share whose length fits their stamps; 1 where there is nothing to compare
    left: int  #: starts without an end, and ends without start and length
    in_order: float = 1.0  #: share written no earlier than what they tell


@dataclass(frozen=True)
class Trial:
    """Named terms of what came out."""

    terms: Mapping[str, float]
    overs: int

    @property
    def total(self) -> float:
        return sum(WEIGHTS[name] * value for name, value in self.terms.items()) if self.overs else 0.0


def tried(overs: Overs, told: Mapping[str, float]) -> Trial:
    """The terms of some overs; `told` are shares that only who made them knows."""
    n = len(overs.start)
    if not n:
        return Trial(dict(told), 0)
    seconds = overs.end - overs.start
    middle = max(float(np.median(seconds)), 1e-3)
    sane = float((seconds <= LONGEST_S).mean())
    terms = {
        "paired": n / (n + overs.left),
        "alone": alone(overs),
        "agreeing": overs.agreeing * sane,
        "length": float(np.exp(-((np.log(middle / USUAL_S) / SPREAD) ** 2) / 2)),
        "answers": answers(overs),
        "in order": overs.in_order,
    }
    return Trial(terms | dict(told), n)


def alone(overs: Overs) -> float:
    """The share of overs that begin after the one before them on their stream ended."""
    order = np.argsort(overs.stream, kind="stable")
    of, begin, end = overs.stream[order], overs.start[order], overs.end[order]
    if len(order) < 2:
        return 1.0
    late = np.ones(len(order), dtype=np.bool_)
    first = np.concatenate([[True], of[1:] != of[:-1]])
    latest = end.copy()
    for place in range(1, len(latest)):  # the latest end so far, of each stream
        if not first[place]:
            latest[place] = max(latest[place], latest[place - 1])
    late[1:] = first[1:] | (begin[1:] >= latest[:-1] - OVERLAP_S)
    return float(late.mean())


def answers(overs: Overs) -> float:
    """The share of overs that begin soon after another one ended, on whichever stream."""
    if len(overs.start) < 2:
        return 0.0
    ends = np.sort(overs.end)
    before = np.searchsorted(ends, overs.start + OVERLAP_S, side="right") - 1
    pause = np.where(before >= 0, overs.start - ends[np.maximum(before, 0)], np.inf)
    return float((pause < ANSWER_S).mean())
