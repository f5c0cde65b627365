"""Arithmetic of half-open spans [start, end): a set of spans is an int64 array of shape (n, 2), in microseconds.

`union` gives the canonical form (sorted, not touching); every other function takes canonical sets unless it says
otherwise.
"""

import numpy as np
import numpy.typing as npt

Spans = npt.NDArray[np.int64]
NONE: Spans = np.empty((0, 2), dtype=np.int64)


def _paired(start: npt.NDArray[np.int64], end: npt.NDArray[np.int64]) -> Spans:
    """Those with length, laid out column by column: searches then read the memory of a column in a row."""
    filled = end > start
    if not filled.all():
        start, end = start[filled], end[filled]
    return np.stack([start, end]).T


def spans(start: npt.ArrayLike, end: npt.ArrayLike) -> Spans:
    """Any spans from columns of start and end; those without length are dropped. Not canonical."""
    return _paired(np.asarray(start, dtype=np.int64), np.asarray(end, dtype=np.int64))


def union(*sets: Spans) -> Spans:
    """The canonical set that covers just what any of the spans covers; spans may overlap, touch and come in any
    order.
    """
    every = spans(*(np.concatenate([part[:, side] for part in sets]) for side in (0, 1))) if sets else NONE
    if not len(every):
        return NONE
    start, end = every[:, 0], every[:, 1]
    if (start[1:] < start[:-1]).any():
        order = np.argsort(start, kind="stable")
        start, end = start[order], end[order]
    reach = np.maximum.accumulate(end)
    gap = start[1:] > reach[:-1]
    return _paired(start[np.append(True, gap)], reach[np.append(gap, True)])


def length(covered: Spans) -> int:
    """Total length in microseconds."""
    return int((covered[:, 1] - covered[:, 0]).sum())


def clip(covered: Spans, start: int, end: int) -> Spans:
    """The part of any set that lies in [start, end); canonical stays canonical."""
    return _paired(np.maximum(covered[:, 0], start), np.minimum(covered[:, 1], end))


def complement(covered: Spans, start: int, end: int) -> Spans:
    """What of [start, end) is not covered."""
    inside = clip(covered, start, end)
    return _paired(np.insert(inside[:, 1], 0, start), np.append(inside[:, 0], np.int64(end)))


def difference(whole: Spans, removed: Spans) -> Spans:
    """What the first set covers and the second does not."""
    if not len(whole) or not len(removed):
        return whole
    start, end = int(whole[0, 0]), int(whole[-1, 1])
    return intersection(whole, complement(removed, start, end))


def intersection(some: Spans, other: Spans) -> Spans:
    """What both sets cover."""
    if not len(some) or not len(other):
        return NONE
    # For each span of `one`, the run of spans of `other` that overlap it.
    low = np.searchsorted(other[:, 1], some[:, 0], side="right")
    high = np.searchsorted(other[:, 0], some[:, 1], side="left")
    count = np.maximum(high - low, 0)
    if not count.sum():
        return NONE
    mine = np.repeat(np.arange(len(some)), count)
    theirs = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + np.repeat(low, count)
    return _paired(np.maximum(some[mine, 0], other[theirs, 0]), np.minimum(some[mine, 1], other[theirs, 1]))


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
    """For each instant, how much of the set lies before it (microseconds, any shape): the running total that binning
    and sliding use.
    """
    instants = np.asarray(instants, dtype=np.int64)
    if not len(covered):
        return np.zeros_like(instants)
    lengths = covered[:, 1] - covered[:, 0]
    before = np.concatenate([[0], np.cumsum(lengths)])
    at = np.searchsorted(covered[:, 0], instants, side="right")
    last = np.maximum(at - 1, 0)
    open_part = np.clip(covered[last, 1] - instants, 0, None)
    return np.where(at > 0, before[at] - np.where(at > 0, open_part, 0), 0)


def binned(covered: Spans, edges: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Length covered in each [edges[i], edges[i + 1]); shape (len(edges) - 1,)."""
    return np.diff(covered_before(covered, edges))


def fullest_by_bin(covered: Spans, width: int, edges: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """What `fullest` finds covered for each [edge, next edge], shape (edges - 1,): the greatest of them is that of the
    whole, as the ends of its spans are looked at in one of them.
    """
    ends = np.concatenate([edges, covered[:, 1], covered[:, 0] + width])
    ends = ends[(ends >= edges[0]) & (ends <= edges[-1])]
    total = covered_before(covered, ends) - covered_before(covered, ends - width)
    most = np.zeros(len(edges) - 1, dtype=np.int64)
    for side in ("left", "right"):  # an end on an edge is of both of its neighbours
        place = np.searchsorted(edges, ends, side=side) - 1
        np.maximum.at(most, np.clip(place, 0, len(most) - 1), total)
    return most


def fullest(covered: Spans, width: int, start: int, end: int) -> tuple[int, int, int]:
    """The span [e - width, e) with start <= e <= end that the set covers most: (covered, e - width, e), the earliest
    such.

    Exact: cover as a function of e is piecewise linear; it stops rising only where e leaves a span of the set or e -
    width enters one, so one of those instants (or an end of the range) is the first at which it is greatest.
    """
    near = clip(covered, start - width, end)
    before = np.insert(np.cumsum(near[:, 1] - near[:, 0]), 0, 0)
    border = np.array([start, end], dtype=np.int64)
    ends = np.concatenate([border, near[:, 1], near[:, 0] + width])
    total = np.concatenate([
        covered_before(near, border) - covered_before(near, border - width),
        before[1:] - covered_before(near, near[:, 1] - width),
        covered_before(near, near[:, 0] + width) - before[:-1],
    ])  # fmt: skip
    total[(ends < start) | (ends > end)] = -1
    most = int(total.max())
    best = int(ends[total == most].min())
    return most, best - width, best
