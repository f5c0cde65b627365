"""The columns of a log wherever they stand: those of several shapes that hold the same sort of value are one place."""

import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from parsers.adopt import trade
from parsers.adopt.model import Column, Shape

TALKS = 0.15  #: a shape tells of traffic where so many of its lines have a mode or a station
UNLIKE = 0.3  #: what other text behind a column takes off
SHARED = 0.6  #: columns without a name are one place where so much of the lesser one's lines has values of the other
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
    said = {tuple(shape.words) for shape in talk if shape.words}
    talk += [
        shape for shape in _others(shapes, talk) if tuple(shape.words) in said
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
    at = {int(row): number for number, row in enumerate(rows)}
    for place in places:
        place.said = list(place.pooled.counts)
        code = {value: number for number, value in enumerate(place.said)}
        place.codes = np.full(len(rows), -1, dtype=np.int64)
        for shape, column in place.members:
            place.codes[[at[row] for row in shape.rows]] = [code[value] if value else -1 for value in column.values]
    when = us[rows]
    same = np.zeros(len(rows), dtype=np.bool_)
    if len(rows) > 1:
        same[1:] = np.diff(when) < PAUSE_US
    return Talk(list(talk), rows, when, places, same)


def _names_mode(shape: Shape) -> bool:
    columns = [column for column in shape.columns if any(trade.mode_of(value) for value, _ in column.filled())]
    return bool(columns) or any(trade.mode_of(word) for word in shape.words)


def _alike(shape: Shape, other: Shape) -> bool:
    """Whether two shapes have most of their fixed words in common."""
    mine, theirs = set(shape.words), set(other.words)
    return len(mine & theirs) >= 0.5 * max(1, len(mine | theirs))


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
                    (_likeness(column, group), number)
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
    for members in [*named.values(), *_beside(groups)]:
        _, largest = max(members, key=lambda one: len(one[0].rows))
        pooled = Column(
            [value for _, column in members for value in column.values], largest.left, largest.right, largest.name
        )
        places.append(Place(members, pooled))
    return places


def _likeness(column: Column, group: Sequence[tuple[Shape, Column]]) -> float:
    """How much speaks for a column's being the same place as others: shared values, how they are spelt, words before
    and after.
    """
    counts: Counter[str] = Counter()
    for _, other in group[:6]:
        counts |= other.counts
    own, others = _told(column.counts), _told(counts)
    sort, sorts = _known_sort(column), {_known_sort(other) for _, other in group} - {""}
    if sort and sorts and sort not in sorts:
        return 0.0
    masks = {_mask(value) for value in list(own)[:60]}, {_mask(value) for value in list(others)[:60]}
    spelt = len(masks[0] & masks[1]) / max(1, min(map(len, masks)))
    first = group[0][1]
    worth = max(_shared(own, others), _shared(others, own)) + SHARED * (bool(sort) and sort in sorts)
    worth += (0.5 if _tells(masks[0]) else 0.15) * spelt + _led(column, first, spelt)
    worth += _followed(column, first, bool(sorts))
    led = column.left[-1:] == first.left[-1:] != ()
    return worth if spelt or sorts or not own or not others or led else 0.5 * worth


def _told(counts: Mapping[str, int]) -> dict[str, int]:
    return {value: count for value, count in counts.items() if not trade.nobody(value)}


def _led(column: Column, first: Column, spelt: float) -> float:
    """What the words before two columns say for their being one."""
    if not column.left or column.left[-1:] != first.left[-1:]:
        return 0.0
    return 0.5 * spelt + 0.2 * (column.left[-2:] == first.left[-2:]) + 0.6 * (column.left[-1] in trade.TARGETLY)


def _followed(column: Column, first: Column, sorted_: bool) -> float:
    """What the text behind two columns says for or against it."""
    mine, theirs = _next(column.right), _next(first.right)
    if mine and mine == theirs:
        return 0.4
    return -UNLIKE if mine and theirs and not sorted_ else 0.0


def _next(text: str) -> str:
    """The mark or the word that comes next."""
    found = re.match(r"\s*(\w+|\W)", text)
    return found[1] if found else ""


def _shared(mine: Mapping[str, int], theirs: Mapping[str, int]) -> float:
    """The share of lines whose value the other has too."""
    return sum(count for value, count in mine.items() if value in theirs) / max(1, sum(mine.values()))


@lru_cache(maxsize=50_000)
def _mask(value: str) -> str:
    """How a value is spelt: digits as 0, words as a."""
    if is_station(value):
        return "station"
    if not any(map(str.isdigit, value)):
        return re.sub(r"[A-Za-z]+", "a", value)
    return re.sub(r"[A-Za-z]{4,}", "a", re.sub(r"[0-9]+", "0", value))


def _tells(masks: AbstractSet[str]) -> bool:
    """Whether a spelling is not just any number or word."""
    return not masks <= {"0", "a", ""}


def _known_sort(column: Column) -> str:
    """mode, side or station, where nearly all values are spelt as such."""
    told = [(value, count) for value, count in column.filled() if not trade.nobody(value)]
    n = sum(count for _, count in told)
    tests = (("mode", trade.mode_of), ("side", trade.side_of), ("station", is_station), ("slot", _spelt_slot))
    return next(
        (name for name, test in tests if n and sum(count for value, count in told if test(value)) >= 0.8 * n), ""
    )


def _spelt_slot(value: str) -> bool:
    return not value.isdigit() and trade.slot_of(value) is not None


def _beside(groups: list[list[tuple[Shape, Column]]]) -> list[list[tuple[Shape, Column]]]:
    """Groups of columns without names made one where they have the same neighbour on one side and never stand in one
    shape.
    """
    home = {id(column): number for number, group in enumerate(groups) for _, column in group}
    merged: dict[int, int] = {}
    by_neighbour: dict[tuple[int, int], int] = {}
    for number, group in sorted(enumerate(groups), key=lambda one: -sum(len(shape.rows) for shape, _ in one[1])):
        for key in _neighbours(group, home):
            other = by_neighbour.setdefault(key, number)
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


def _neighbours(group: Sequence[tuple[Shape, Column]], home: Mapping[int, int]) -> Iterator[tuple[int, int]]:
    """The groups of the columns left (-1) and right (1) of those of a group."""
    for shape, column in group:
        at = next(i for i, one in enumerate(shape.columns) if one is column)
        for side in (-1, 1):
            inside = 0 <= at + side < len(shape.columns)
            if inside and (neighbour := home.get(id(shape.columns[at + side]))) is not None:
                yield neighbour, side


def _apart(first: Sequence[tuple[Shape, Column]], second: Sequence[tuple[Shape, Column]]) -> bool:
    """Whether two groups never stand in one shape, and neither holds what the other can't: measured numbers, or
    another sort.
    """
    shapes = {id(shape) for shape, _ in first}
    sorts = [{_known_sort(column) for _, column in group} - {""} for group in (first, second)]
    masks = [{_mask(value) for _, column in group for value in list(column.counts)[:60]} for group in (first, second)]
    alike = bool(masks[0] & masks[1]) or not any(map(_tells, masks))
    return (
        not any(id(shape) in shapes for shape, _ in second) and (not any(sorts) or bool(sorts[0] & sorts[1])) and alike
    )


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
