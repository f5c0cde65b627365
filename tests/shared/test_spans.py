"""Span arithmetic against `portion` (reference library for intervals) and against plain counting."""

from itertools import pairwise

import numpy as np
import portion as P
from hypothesis import given, settings
from hypothesis import strategies as st

from shared import spans as sp

pairs = st.lists(st.tuples(st.integers(-40, 60), st.integers(0, 20)).map(lambda p: (p[0], p[0] + p[1])), max_size=12)
few = settings(max_examples=150, deadline=None)


def array(some: list[tuple[int, int]]) -> sp.Spans:
    return np.array(some, dtype=np.int64).reshape(-1, 2)


def reference(some: list[tuple[int, int]]) -> P.Interval:
    covered = P.empty()
    for start, end in some:
        covered |= P.closedopen(start, end)
    return covered


def of(interval: P.Interval) -> list[list[int]]:
    return [] if interval.empty else [[part.lower, part.upper] for part in interval]


@few
@given(pairs, pairs)
def test_union_intersection_difference_and_complement_agree_with_portion(one: list, other: list) -> None:
    a, b, x, y = sp.union(array(one)), sp.union(array(other)), reference(one), reference(other)
    assert a.tolist() == of(x)
    assert sp.union(array(one), array(other)).tolist() == of(x | y)
    assert sp.intersection(a, b).tolist() == of(x & y)
    assert sp.difference(a, b).tolist() == of(x - y)
    assert sp.clip(a, -10, 30).tolist() == of(x & P.closedopen(-10, 30))
    assert sp.complement(a, -10, 30).tolist() == of(P.closedopen(-10, 30) - x)
    assert sp.length(a) == sum(part.upper - part.lower for part in x if not part.empty)


@few
@given(pairs)
def test_covers_and_locate_agree_with_portion_on_every_instant(some: list) -> None:
    covered, truth = sp.union(array(some)), reference(some)
    instants = np.arange(-50, 90)
    assert sp.covers(covered, instants).tolist() == [instant in truth for instant in instants.tolist()]
    for instant, at in zip(instants.tolist(), sp.locate(covered, instants).tolist(), strict=True):
        assert (at == -1) if instant not in truth else covered[at, 0] <= instant < covered[at, 1]


@few
@given(pairs, st.lists(st.integers(-60, 100), min_size=2, max_size=8).map(sorted))
def test_binning_adds_up_what_portion_finds_in_each_bin(some: list, edges: list[int]) -> None:
    covered, truth = sp.union(array(some)), reference(some)
    for (start, end), found in zip(pairwise(edges), sp.binned(covered, np.array(edges)), strict=True):
        assert found == sum(part.upper - part.lower for part in truth & P.closedopen(start, end) if not part.empty)


@few
@given(pairs, st.integers(1, 40), st.integers(-30, 30), st.integers(0, 60))
def test_the_fullest_span_is_the_earliest_best_of_all_places(some: list, width: int, start: int, length: int) -> None:
    covered, truth = sp.union(array(some)), reference(some)
    best = max(
        (sum(p.upper - p.lower for p in truth & P.closedopen(e - width, e) if not p.empty), -e)
        for e in range(start, start + length + 1)
    )
    assert sp.fullest(covered, width, start, start + length) == (best[0], -best[1] - width, -best[1])


@given(pairs, st.integers(1, 60), st.lists(st.integers(0, 100), min_size=2, max_size=6, unique=True))
def test_the_fullest_span_of_each_bin_is_that_of_the_bin_alone(some: list, width: int, edges: list[int]) -> None:
    covered, edges = sp.union(array(some)), sorted(edges)
    found = sp.fullest_by_bin(covered, width, np.array(edges, dtype=np.int64))
    assert found.tolist() == [sp.fullest(covered, width, low, high)[0] for low, high in pairwise(edges)]
    assert found.max() == sp.fullest(covered, width, edges[0], edges[-1])[0]


def test_touching_spans_become_one_and_empty_ones_vanish() -> None:
    assert sp.union(array([(5, 9), (0, 5), (20, 20)])).tolist() == [[0, 9]]
    assert sp.spans([0, 3], [0, 4]).tolist() == [[3, 4]]


def test_a_set_of_nothing_is_empty_in_every_function() -> None:
    assert sp.union().tolist() == sp.union(sp.NONE, sp.NONE).tolist() == []
    assert sp.complement(sp.NONE, 0, 5).tolist() == [[0, 5]]
    assert sp.locate(sp.NONE, np.array([3])).tolist() == [-1]
    assert sp.covered_before(sp.NONE, np.array([3])).tolist() == [0]
    assert sp.fullest(sp.NONE, 10, 0, 50) == (0, -10, 0)


def test_blind_time_without_end_can_be_clipped() -> None:
    endless = sp.spans([np.iinfo(np.int64).min], [np.iinfo(np.int64).max])
    assert sp.clip(endless, 100, 200).tolist() == [[100, 200]]
