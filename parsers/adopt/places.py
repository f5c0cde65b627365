"""The columns of a log wherever they stand: those of several shapes that hold the same sort of value are one place."""

from collections import defaultdict
from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from parsers.adopt import trade
from parsers.adopt.model import Column, Shape
from parsers.adopt.pooling import SHARED, beside, is_station, likeness

TALKS = 0.15  #: a shape tells of traffic where so many of its lines have a mode or a station
PAUSE_US = 30_000_000  #: so long without a line, and another conversation has begun
Ints = npt.NDArray[np.int64]


@dataclass
class Place:
    """One column of the log. `codes` has a number a talk line, in order of time: which value, -1 where the line has
    none.
    """

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
    said = {saying for shape in talk if (saying := without_nobody(shape.words))}
    talk += [
        shape for shape in _others(shapes, talk) if without_nobody(shape.words) in said
    ]  # nobody is named in it, but it says the same
    numbers = _numbers(talk)
    talk += [shape for shape in _others(shapes, talk) if _shares_numbers(shape, numbers)]
    talk += [
        shape for shape in _others(shapes, talk) if _names_mode(shape) and any(_alike(shape, other) for other in talk)
    ]
    return talk_of(talk, us)


def talk_of(talk: Sequence[Shape], us: Ints) -> Talk:
    """Some shapes and their places."""
    places = _pool(talk)
    rows = np.array(sorted(row for shape in talk for row in shape.rows), dtype=np.int64)
    for place in places:
        _code(place, rows)
    when = us[rows]
    same = np.zeros(len(rows), dtype=np.bool_)
    if len(rows) > 1:
        same[1:] = np.diff(when) < PAUSE_US
    return Talk(list(talk), rows, when, places, same)


def _code(place: Place, rows: Ints) -> None:
    """Numbers the values of a place, line by line."""
    place.said = list(place.pooled.counts)
    code = {value: number for number, value in enumerate(place.said)}
    place.codes = np.full(len(rows), -1, dtype=np.int64)
    for shape, column in place.members:
        at = np.searchsorted(rows, shape.rows)
        place.codes[at] = [code[value] if value else -1 for value in column.values]


def joined(first: Place, second: Place, talk: Talk) -> Place | None:
    """Two places as one; None where a line has both."""
    if bool(((first.codes >= 0) & (second.codes >= 0)).any()) or _share_shape(first, second):
        return None
    pooled = Column(first.pooled.values + second.pooled.values, first.pooled.left, first.pooled.right)
    place = Place([*first.members, *second.members], pooled)
    _code(place, talk.rows)
    return place


def _share_shape(first: Place, second: Place) -> bool:
    shapes = {id(shape) for shape, _ in first.members}
    return any(id(shape) in shapes for shape, _ in second.members)


def without_nobody(words: Sequence[str]) -> tuple[str, ...]:
    """Words without those that only say that nobody is known there."""
    return tuple(word for word in words if not trade.nobody(word.strip("()[]<>,;:")))


def _names_mode(shape: Shape) -> bool:
    columns = [column for column in shape.columns if any(trade.mode_of(value) for value, _ in column.filled())]
    return bool(columns) or any(trade.mode_of(word) for word in shape.words)


def _alike(shape: Shape, other: Shape) -> bool:
    """Whether two shapes have most of their fixed words in common."""
    mine, theirs = set(shape.words), set(other.words)
    return len(mine & theirs) >= 0.5 * max(1, len(mine | theirs))


def _others(shapes: Sequence[Shape], talk: Sequence[Shape]) -> list[Shape]:
    return [shape for shape in shapes if not any(shape is one for one in talk)]


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


def _numbers(talk: Sequence[Shape]) -> set[str]:
    """Values of columns of which nearly each line has another, such as numbers of overs."""
    columns = [column for shape in talk for column in shape.columns if len(column.counts) >= 0.5 * len(shape.rows)]
    return {value for column in columns for value in column.counts if len(value) > 1 and any(map(str.isdigit, value))}


def _shares_numbers(shape: Shape, numbers: AbstractSet[str]) -> bool:
    """Whether a column's many values come again in lines of traffic: numbers of overs that an end names alone."""
    for column in shape.columns:
        mine = [value for value in column.counts if len(value) > 1]
        many = len(mine) >= max(5, 0.5 * len(shape.rows))
        if many and sum(value in numbers for value in mine) >= 0.7 * len(mine):
            return True
    return False


def _pool(talk: Sequence[Shape]) -> list[Place]:
    every = [
        (shape, column)
        for shape in sorted(talk, key=lambda one: -len(one.rows))
        for column in shape.columns
        if not column.of_run
    ]
    named: dict[str, list[tuple[Shape, Column]]] = defaultdict(list)
    groups: list[list[tuple[Shape, Column]]] = []
    for shape, column in every:
        if column.name is not None:
            named[column.name].append((shape, column))
        else:
            home = max(
                (
                    (likeness(column, group), number)
                    for number, group in enumerate(groups)
                    if not any(shape is one for one, _ in group)
                ),
                default=(0.0, -1),
            )
            if home[0] >= SHARED:
                groups[home[1]].append((shape, column))
            else:
                groups.append([(shape, column)])
    places = []
    for members in [*named.values(), *beside(groups)]:
        _, largest = max(members, key=lambda one: len(one[0].rows))
        pooled = Column(
            [value for _, column in members for value in column.values], largest.left, largest.right, largest.name
        )
        places.append(Place(members, pooled))
    return places


def repeats(place: Place, talk: Talk) -> float:
    """How much oftener than by chance a value is that of the last line before it in the same conversation that has one,
    0 to 1: many hosts name the target where an over opens, and not where it ends.
    """
    told = place.codes >= 0
    codes, conversation = place.codes[told], np.cumsum(~talk.same_talk)[told]
    both = conversation[1:] == conversation[:-1]
    if both.sum() < 10:
        return 0.0
    same = float((codes[1:] == codes[:-1])[both].mean())
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
    # Few lines to a value make any place seem to explain any other: that much is taken off (Miller and Madow's
    # correction, from memory).
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
