"""Which columns of several shapes are one place: by shared values, spelling, words around and neighbours."""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from functools import lru_cache

from parsers.adopt import trade, vocabulary
from parsers.adopt.model import Column, Shape

UNLIKE = 0.3  #: what other text behind a column takes off


SHARED = 0.6  #: columns without a name are one place where so much of the lesser one's lines has values of the other


def is_station(value: str) -> bool:
    """A call sign, or a radio id as long as those of stations are (common practice, no source)."""
    return trade.is_callsign(value) or (len(value) >= 6 and trade.is_radio_id(value))


def likeness(column: Column, group: Sequence[tuple[Shape, Column]]) -> float:
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
    return 0.5 * spelt + 0.2 * (column.left[-2:] == first.left[-2:]) + 0.6 * (column.left[-1] in vocabulary.TARGETLY)


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


def beside(groups: list[list[tuple[Shape, Column]]]) -> list[list[tuple[Shape, Column]]]:
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
