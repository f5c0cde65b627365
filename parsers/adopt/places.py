"""The columns of a log wherever they stand: columns of several shapes that hold the same sort of value are one place."""

import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from parsers.adopt import trade
from parsers.adopt.model import Column, Shape

TALKS = 0.15  #: a shape tells of traffic where so many of its lines have a mode or a station
SHARED = 0.6  #: columns without a name are one place where so much of the lesser one's lines has values of the other
PAUSE_US = 30_000_000  #: so long without a line, and another conversation has begun
Ints = npt.NDArray[np.int64]


@dataclass
class Place:
    """One column of the log. `codes` has a number a talk line, in order of time: which value, -1 where the line has none."""

    members: list[tuple[Shape, Column]]
    pooled: Column
    codes: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    said: list[str] = field(default_factory=list)  #: the value of each code

    @cached_property
    def filled(self) -> list[tuple[str, int]]:
        told = self.pooled.filled()
        return [one for one in told if not trade.nobody(one[0])] or told

    @cached_property
    def total(self) -> int:
        return sum(count for _, count in self.filled)


@dataclass
class Talk:
    """The lines of traffic and their places."""

    shapes: list[Shape]
    rows: Ints  #: which lines of the sample, in order
    us: Ints  #: their instants
    places: list[Place]
    same_talk: npt.NDArray[np.bool_]  #: whether a line belongs to the conversation of the one before


def find_talk(shapes: Sequence[Shape], us: Ints) -> Talk:
    """The shapes that tell of traffic, and their places."""
    talk = [shape for shape in shapes if _tells_traffic(shape)]
    said = {tuple(shape.words) for shape in talk if shape.words}
    talk += [shape for shape in _others(shapes, talk) if tuple(shape.words) in said]  # nobody is named in it, but it says the same
    talk += [shape for shape in _others(shapes, talk) if _shares_numbers(shape, talk)]
    places = _pool(talk)
    rows = np.array(sorted(row for shape in talk for row in shape.rows), dtype=np.int64)
    at = {int(row): number for number, row in enumerate(rows)}
    for place in places:
        place.said = list(place.pooled.counts)
        code = {value: number for number, value in enumerate(place.said)}
        place.codes = np.full(len(rows), -1, dtype=np.int64)
        for shape, column in place.members:
            for row, value in zip(shape.rows, column.values, strict=True):
                place.codes[at[row]] = code[value] if value else -1
    when = us[rows]
    same = np.zeros(len(rows), dtype=np.bool_)
    if len(rows) > 1:
        same[1:] = np.diff(when) < PAUSE_US
    return Talk(talk, rows, when, places, same)


def _others(shapes: Sequence[Shape], talk: Sequence[Shape]) -> list[Shape]:
    return [shape for shape in shapes if not any(shape is one for one in talk)]


def is_station(value: str) -> bool:
    """A call sign, or a radio id as long as those of stations are (common practice, no source)."""
    return trade.is_callsign(value) or (len(value) >= 6 and trade.is_radio_id(value))


def _tells_traffic(shape: Shape) -> bool:
    n = len(shape.rows)
    words = [word for part in shape.parts if isinstance(part, str) for word in part.replace("=", " ").split()]
    if any(trade.mode_of(word.strip(",;:|()[]<>\"'")) for word in words) and len(shape.columns) > 1:
        return True
    for column in shape.columns:
        hits = sum(count for value, count in column.filled() if is_station(value) or trade.mode_of(value))
        if hits >= TALKS * n:
            return True
    return False


def _shares_numbers(shape: Shape, talk: Sequence[Shape]) -> bool:
    """Whether a column's many values come again in a line of traffic: numbers of overs that an end names alone."""
    for column in shape.columns:
        mine = {value for value in column.counts if value}
        if len(mine) < max(5, 0.5 * len(shape.rows)) or not any(any(char.isdigit() for char in value) for value in mine):
            continue
        for other in talk:
            for theirs in other.columns:
                many = len(theirs.counts) >= 0.5 * len(other.rows)
                if many and sum(value in theirs.counts for value in mine) >= 0.7 * len(mine) and any(len(value) > 1 for value in mine):
                    return True
    return False


def _pool(talk: Sequence[Shape]) -> list[Place]:
    every = [(shape, column) for shape in sorted(talk, key=lambda one: -len(one.rows)) for column in shape.columns if not column.of_run]
    named: dict[str, list[tuple[Shape, Column]]] = defaultdict(list)
    groups: list[list[tuple[Shape, Column]]] = []
    for shape, column in every:
        if column.name is not None:
            named[column.name].append((shape, column))
        else:
            home = max(
                ((_likeness(column, group), number) for number, group in enumerate(groups) if not any(shape is one for one, _ in group)),
                default=(0.0, -1),
            )
            if home[0] >= SHARED:
                groups[home[1]].append((shape, column))
            else:
                groups.append([(shape, column)])
    places = []
    for members in [*named.values(), *_beside(groups)]:
        _, largest = max(members, key=lambda one: len(one[0].rows))
        pooled = Column([value for _, column in members for value in column.values], largest.left, largest.right, largest.name)
        places.append(Place(members, pooled))
    return places


def _likeness(column: Column, group: Sequence[tuple[Shape, Column]]) -> float:
    """How much speaks for a column's being the same place as others: shared values, then shared words before and after."""
    counts: Counter[str] = Counter()
    for _, other in group[:6]:
        counts |= other.counts
    own, others = ({value: count for value, count in some.items() if not trade.nobody(value)} for some in (column.counts, counts))
    mine = sum(count for value, count in own.items() if value in others) / max(1, sum(own.values()))
    theirs = sum(count for value, count in others.items() if value in own) / max(1, sum(others.values()))
    worth = max(mine, theirs)
    first = group[0][1]
    if column.left[-1:] and column.left[-1:] == first.left[-1:] and _sort(column) == _sort(first):
        worth += 0.5 + 0.2 * (column.left[-2:] == first.left[-2:])
    if column.left[-1:] == first.left[-1:] and set(column.left[-1:]) & trade.TARGETLY:
        return worth + SHARED
    if (told := _known_sort(column)) and told == _known_sort(first):
        worth += SHARED
    return worth if _sort(column) == _sort(first) else 0.5 * worth


def _known_sort(column: Column) -> str:
    """mode, side or station, where nearly all values are spelt as such."""
    n = sum(count for _, count in column.filled())
    tests = (("mode", trade.mode_of), ("side", trade.side_of), ("station", is_station))
    return next((name for name, test in tests if n and sum(count for value, count in column.filled() if test(value)) >= 0.8 * n), "")


def _beside(groups: list[list[tuple[Shape, Column]]]) -> list[list[tuple[Shape, Column]]]:
    """Groups of columns without names made one where they have the same neighbour on one side and never stand in one shape."""
    home = {id(column): number for number, group in enumerate(groups) for _, column in group}
    merged: dict[int, int] = {}
    by_neighbour: dict[tuple[int, int], int] = {}
    for number, group in sorted(enumerate(groups), key=lambda one: -sum(len(shape.rows) for shape, _ in one[1])):
        for shape, column in group:
            at = next(i for i, one in enumerate(shape.columns) if one is column)
            for side in (-1, 1):
                if not 0 <= at + side < len(shape.columns) or (neighbour := home.get(id(shape.columns[at + side]))) is None:
                    continue
                other = by_neighbour.setdefault((neighbour, side), number)
                if other != number and number not in merged and _apart(groups[other], group):
                    merged[number] = other
    out = [list(group) for group in groups]
    for number, other in merged.items():
        while other in merged:
            other = merged[other]
        if other != number and _apart(out[other], out[number]):
            out[other] += out[number]
            out[number] = []
    return [group for group in out if group]


def _apart(first: Sequence[tuple[Shape, Column]], second: Sequence[tuple[Shape, Column]]) -> bool:
    """Whether two groups never stand in one shape, and neither holds what the other can't: measured numbers, or spellings of another sort."""
    shapes = {id(shape) for shape, _ in first}
    sorts = [{_known_sort(column) for _, column in group} - {""} for group in (first, second)]
    measured = [
        any(re.search(r"[0-9][.,:][0-9]|%|^-[0-9]", value) for _, column in group for value in column.counts) for group in (first, second)
    ]
    return not any(id(shape) in shapes for shape, _ in second) and not any(sorts) and not any(measured)


def _sort(column: Column) -> str:
    """What most values look like."""
    value = max(column.counts, key=lambda one: (not trade.nobody(one), column.counts[one]), default="")
    return "station" if is_station(value) else "number" if value[:1].isdigit() or value[:1] == "-" else "word"


def repeats(place: Place, talk: Talk) -> float:
    """How much oftener than by chance a value is that of the line before in the same conversation, 0 to 1."""
    both = talk.same_talk[1:] & (place.codes[1:] >= 0) & (place.codes[:-1] >= 0)
    if both.sum() < 10:
        return 0.0
    same = float((place.codes[1:] == place.codes[:-1])[both].mean())
    chance = sum((count / place.total) ** 2 for _, count in place.filled)
    return max(0.0, (same - chance) / (1 - chance)) if chance < 0.999 else 0.0


def explained(place: Place, by: Place) -> float:
    """The share of a place's uncertainty that another place takes away, 0 to 1."""
    both = (place.codes >= 0) & (by.codes >= 0)
    if both.sum() < 20:
        return 0.0
    mine, theirs = place.codes[both], by.codes[both]
    whole = _entropy(mine)
    if whole < 0.05:
        return 0.0
    joint = _entropy(mine * (int(theirs.max()) + 1) + theirs)
    # Few lines to a value make any place seem to explain any other: that much is taken off (Miller and Madow's correction, from memory).
    spare = (len(np.unique(mine)) - 1) * (len(np.unique(theirs)) - 1) / (2 * len(mine))
    return float(np.clip((whole + _entropy(theirs) - joint - spare) / whole, 0.0, 1.0))


def _entropy(codes: Ints) -> float:
    share = np.bincount(codes - codes.min()).astype(np.float64)
    share = share[share > 0] / len(codes)
    return float(-(share * np.log(share)).sum())


def rises(place: Place) -> float:
    """The share of steps up, where most values are whole numbers."""
    numbers = [int(value) for value in place.pooled.values[:4000] if value.isdigit() and len(value) < 18]
    return sum(b >= a for a, b in pairwise(numbers)) / (len(numbers) - 1) if len(numbers) > 20 else 0.0
