"""Which overs came through which link (docs/definitions.md, traffic of a link). Pure."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints
from server.analytics.linking import Change, Key, fits
from shared import spans as sp

NEVER = np.iinfo(np.int64).max

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class LinkOvers:
    """n finished overs that came over a link, sorted by start; all arrays of shape (n,)."""

    start: Ints  #: microseconds
    end: Ints
    mode: Sequence[str | None]
    target: Sequence[str | None]
    loss_pct: npt.NDArray[np.float64]  #: nan where it is not logged


@dataclass(frozen=True)
class NotToldApart:
    """Overs of one mode and target whose link is not known."""

    mode: str | None
    target: str | None
    several: bool  #: whether they fit more than one link that was up; otherwise they fit none
    overs: int


@dataclass(frozen=True)
class Carried:
    """Which link each over came through, shape (links, overs) each; a column has one link at the most in `through`."""

    fitting: Bools  #: the links that it may have come through
    through: Bools  #: the only one of these


def stretches(changes: Sequence[Change], end: int) -> list[tuple[int, int, bool]]:
    """From a link's changes in order of time: [start, end) and whether it was up; neighbours differ. The last one
    lasts until `end`.
    """
    turns = [one for place, one in enumerate(changes) if not place or one[1] != changes[place - 1][1]]
    ends = [*(instant for instant, _ in turns[1:]), max(end, turns[-1][0])] if turns else []
    return [(since, to, up) for (since, up), to in zip(turns, ends, strict=True)]


def carried(keys: Sequence[Key], changes: Mapping[Key, Sequence[Change]], overs: LinkOvers) -> Carried:
    """Which link each over came through: the one that was up when it began and fits its mode and target as far as both
    are given; no link where none does, or more than one. A link that names less of another is that other one.
    """
    fitting = np.zeros((len(keys), len(overs.start)), dtype=np.bool_)
    pairs = sorted(set(zip(overs.mode, overs.target, strict=True)), key=str)
    number = {pair: place for place, pair in enumerate(pairs)}
    of = np.array([number[pair] for pair in zip(overs.mode, overs.target, strict=True)], dtype=np.int64)
    for place, key in enumerate(keys):
        may = np.array([_may_be(key, *pair) for pair in pairs], dtype=np.bool_)
        was_up = [(since, to) for since, to, up in stretches(changes[key], NEVER) if up]
        up = sp.union(sp.spans([a for a, _ in was_up], [b for _, b in was_up]))
        fitting[place] = may[of] & sp.covers(up, overs.start) if len(of) else False
    told = fitting.copy()
    for place, key in enumerate(keys):
        for other, fuller in enumerate(keys):
            if key != fuller and fits(key, fuller):
                told[place] &= ~fitting[other]
    return Carried(told, told & (told.sum(axis=0) == 1))


def not_told_apart(found: Carried, overs: LinkOvers, began: Bools) -> tuple[NotToldApart, ...]:
    """Of the overs that `began` in the window those without a link, by mode and target, most first."""
    several = found.fitting.sum(axis=0) > 1
    places = np.flatnonzero(began & ~found.through.any(axis=0)).tolist()
    counted = Counter((overs.mode[place], overs.target[place], bool(several[place])) for place in places)
    rows = [NotToldApart(mode, target, many, overs) for (mode, target, many), overs in counted.items()]
    return tuple(sorted(rows, key=lambda row: (-row.overs, row.mode or "", row.target or "", row.several)))


def _may_be(key: Key, mode: str | None, target: str | None) -> bool:
    """Whether an over may have come through a link, by what both name."""
    _, of_mode, of_target = key
    return (None in (mode, of_mode) or mode == of_mode) and (None in (target, of_target) or target == of_target)
