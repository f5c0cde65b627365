"""Arithmetic of half-open spans [start, end): a set of spans is an int64 array of shape (n, 2), in microseconds.

`union` gives the canonical form (sorted, not touching); every other function takes canonical sets unless it says otherwise.
"""

import numpy as np
import numpy.typing as npt

Spans = npt.NDArray[np.int64]
NONE: Spans = np.empty((0, 2), dtype=np.int64)


def spans(start: npt.ArrayLike, end: npt.ArrayLike) -> Spans:
    """Any spans from columns of start and end; those without length are dropped. Not canonical."""
    both = np.column_stack([np.asarray(start, dtype=np.int64), np.asarray(end, dtype=np.int64)])
    return both[both[:, 1] > both[:, 0]]


def union(*sets: Spans) -> Spans:
    """The canonical set that covers just what any of the spans covers; spans may overlap, touch and come in any order."""
    every = np.concatenate(sets) if sets else NONE
    every = every[every[:, 1] > every[:, 0]]
    if not len(every):
        return NONE
    every = every[np.argsort(every[:, 0], kind="stable")]
    reach = np.maximum.accumulate(every[:, 1])
    first = np.concatenate([[True], every[1:, 0] > reach[:-1]])
    last = np.concatenate([first[1:], [True]])
    return np.column_stack([every[first, 0], reach[last]])


def length(covered: Spans) -> int:
    """Total length in microseconds."""
    return int((covered[:, 1] - covered[:, 0]).sum())


def clip(covered: Spans, start: int, end: int) -> Spans:
    """The part of any set that lies in [start, end); canonical stays canonical."""
    cut = np.column_stack([np.maximum(covered[:, 0], start), np.minimum(covered[:, 1], end)])
    return cut[cut[:, 1] > cut[:, 0]]


def complement(covered: Spans, start: int, end: int) -> Spans:
    """What of [start, end) is not covered."""
    inside = clip(covered, start, end)
    edges = np.column_stack([np.concatenate([[start], inside[:, 1]]), np.concatenate([inside[:, 0], [end]])])
    return edges[edges[:, 1] > edges[:, 0]]


def difference(kept: Spans, removed: Spans) -> Spans:
    """What the first set covers and the second does not."""
    if not len(kept) or not len(removed):
        return kept
    start, end = int(kept[0, 0]), int(kept[-1, 1])
    return intersection(kept, complement(removed, start, end))


def intersection(one: Spans, other: Spans) -> Spans:
    """What both sets cover."""
    if not len(one) or not len(other):
        return NONE
    # For each span of `one`, the run of spans of `other` that overlap it.
    low = np.searchsorted(other[:, 1], one[:, 0], side="right")
    high = np.searchsorted(other[:, 0], one[:, 1], side="left")
    count = np.maximum(high - low, 0)
    if not count.sum():
        return NONE
    mine = np.repeat(np.arange(len(one)), count)
    theirs = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + np.repeat(low, count)
    return np.column_stack([np.maximum(one[mine, 0], other[theirs, 0]), np.minimum(one[mine, 1], other[theirs, 1])])


def covers(covered: Spans, instants: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """For each instant, whether it lies in the set."""
    return locate(covered, instants) >= 0


def locate(covered: Spans, instants: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """For each instant, the index of the span that holds it, -1 where none does."""
    at = np.searchsorted(covered[:, 0], instants, side="right") - 1
    if not len(covered):
        return np.full(len(instants), -1, dtype=np.int64)
    inside = (at >= 0) & (instants < covered[np.maximum(at, 0), 1])
    return np.where(inside, at, -1)


def covered_before(covered: Spans, instants: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """For each instant, how much of the set lies before it (microseconds): the running total that binning and sliding use."""
    instants = np.asarray(instants, dtype=np.int64)
    if not len(covered):
        return np.zeros(len(instants), dtype=np.int64)
    lengths = covered[:, 1] - covered[:, 0]
    before = np.concatenate([[0], np.cumsum(lengths)])
    at = np.searchsorted(covered[:, 0], instants, side="right")
    last = np.maximum(at - 1, 0)
    open_part = np.clip(covered[last, 1] - instants, 0, None)
    return np.where(at > 0, before[at] - np.where(at > 0, open_part, 0), 0)


def binned(covered: Spans, edges: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Length covered in each [edges[i], edges[i + 1]); shape (len(edges) - 1,)."""
    return np.diff(covered_before(covered, edges))


def fullest(covered: Spans, width: int, start: int, end: int) -> tuple[int, int, int]:
    """The span [e - width, e) with start <= e <= end that the set covers most: (covered, e - width, e), the earliest such.

    Exact: cover as a function of e is piecewise linear, so its maximum lies where an edge of the set meets an edge of the span.
    """
    edges = covered.reshape(-1)
    ends = np.concatenate([[start, end], edges, edges + width])
    ends = np.unique(ends[(ends >= start) & (ends <= end)])
    total = covered_before(covered, ends) - covered_before(covered, ends - width)
    best = int(np.argmax(total))
    return int(total[best]), int(ends[best]) - width, int(ends[best])
