"""The lines of traffic as plain columns of numbers, on which readings are tried."""

import re
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from parsers.adopt import trade
from parsers.adopt.model import Column, Shape
from parsers.adopt.places import Place, Talk, without_nobody
from parsers.adopt.trial import Bools, Floats, Ints
from shared.units import duration_seconds
from shared.zones import SECOND

MOST_LINES = 6000  #: so many lines of traffic tell readings apart
Kinds = tuple[tuple[Shape, ...], ...]


def _mode(value: str) -> object:
    return tuple(sorted((trade.mode_of(value) or {"mode": value}).items()))


#: what values of a role mean, as far as that is known
MEANT: Mapping[str, Callable[[str], object]] = {
    "mode": _mode,
    "slot": lambda value: trade.slot_of(value) or value,
    "side": lambda value: trade.side_of(value) or value,
}


@dataclass(frozen=True)
class Stage:
    """`kind` numbers for each line the shapes with the same fixed words."""

    kinds: Kinds
    when: Floats  #: seconds
    kind: Ints
    codes: Mapping[str, Ints]  #: role -> a number a line for its value, -1 where it has none

    def has(self, role: str) -> Bools:
        """Which lines tell a role."""
        return self.codes[role] >= 0 if role in self.codes else np.zeros(len(self.when), dtype=np.bool_)

    def share(self, kind: int, role: str) -> float:
        """Of the lines of a kind those that tell a role."""
        mine = self.kind == kind
        return float(self.has(role)[mine].mean()) if mine.any() else 0.0


def kinds_of(shapes: Sequence[Shape]) -> Kinds:
    """Shapes with the same fixed words together, those of most lines first."""
    found: dict[tuple[str, ...], list[Shape]] = defaultdict(list)
    for shape in shapes:
        found[_saying(shape)].append(shape)
    return tuple(tuple(some) for some in sorted(found.values(), key=lambda some: -sum(len(one.rows) for one in some)))


def _saying(shape: Shape) -> tuple[str, ...]:
    """What the fixed text of a shape says, without numbers and names of modes; of lines whose columns have names, the
    value that tells.
    """
    if not shape.parts or any(column.name for column in shape.columns):
        return without_nobody(shape.words)
    text = " ".join(part for part in shape.parts if isinstance(part, str))
    words = re.sub(r"[0-9]+", "", text).lower().split()
    return without_nobody([word for word in words if not trade.mode_of(word.strip(",;:|()[]<>"))])


def set_stage(talk: Talk, places: Mapping[str, Place]) -> Stage:
    """The stage of some lines of traffic, and of what places mean; what fixed words say counts as well."""
    kinds = kinds_of(talk.shapes)
    at = {int(row): place for place, row in enumerate(talk.rows)}
    kind = np.zeros(len(talk.rows), dtype=np.int64)
    for number, shapes in enumerate(kinds):
        for shape in shapes:
            kind[[at[row] for row in shape.rows]] = number
    codes = {role: place.codes for role, place in places.items()}
    for role, meant in MEANT.items():
        codes[role] = _meant(places.get(role), talk.shapes, role, at, meant)
    some = slice(0, MOST_LINES)
    return Stage(kinds, talk.us[some] / SECOND, kind[some], {role: found[some] for role, found in codes.items()})


def _meant(
    place: Place | None, shapes: Sequence[Shape], role: str, at: Mapping[int, int], meant: Callable[[str], object]
) -> Ints:
    """A number a line for what it means, by its value or by its shape's fixed words: two spellings of one meaning have
    the same.
    """
    numbers: dict[object, int] = {}
    out = np.full(len(at), -1, dtype=np.int64)
    if place is not None:
        table = np.array(
            [numbers.setdefault(meant(value), len(numbers)) for value in place.said] + [-1], dtype=np.int64
        )
        out = np.where(place.codes >= 0, table[place.codes], -1)
    for shape in shapes:
        if role in shape.set and shape.column(role) is None:
            out[[at[row] for row in shape.rows]] = numbers.setdefault(meant(str(shape.set[role])), len(numbers))
    return out


def lengths_of(place: Place | None, lines: int) -> tuple[Floats, bool]:
    """The numbers of a place read as lengths, nan where none, and whether they are bare."""
    if place is None:
        return np.full(lines, np.nan), False
    told = [duration_seconds(value) for value in place.said]
    table = np.array([np.nan if one is None else one for one in told] + [np.nan])
    bare = sum(count for value, count in place.filled if value.replace(",", ".").replace(".", "", 1).isdigit())
    return table[place.codes][:lines], bare > 0.5 * place.total


def raw_lengths(column: Column) -> tuple[Floats, bool]:
    """The column's durations as they stand, nan where none, and whether they are bare numbers."""
    table = {value: duration_seconds(value) for value in column.counts}
    bare = sum(count for value, count in column.counts.items() if re.fullmatch(r"[0-9]+(?:[.,][0-9]+)?", value))
    filled = sum(count for value, count in column.counts.items() if value)
    return np.array([np.nan if (one := table[value]) is None else one for value in column.values]), bare > 0.5 * filled
