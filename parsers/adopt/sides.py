"""Which side overs came from where no column says so: two words, letters or arrows in the fixed text of lines, of
which each has one.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from parsers.adopt import trade
from parsers.adopt.model import TALK, Known, Shape

OTHER = {"air": "link", "link": "air"}
LEAST, SURE, TOLD = 0.25, 0.5, 9.0
LACKING, COVERED = 0.02, 0.97  #: sides are looked for where so many lines lack one; two marks must cover so many
_MARKS = re.compile(r"[A-Za-z]+|[^\sA-Za-z0-9]+")


@dataclass(frozen=True)
class Sides:
    """Two marks and what they stand for; `guessed` where little speaks for it."""

    means: Mapping[str, str]
    guessed: bool


def give_sides(shapes: Sequence[Shape], known: Known) -> Sides | None:
    """Sets the side of shapes of overs that have none; None where nothing tells it."""
    voice = [shape for shape in shapes if shape.event in TALK]
    lack = [shape for shape in voice if _lacks(shape)]
    if _lines(lack) <= LACKING * _lines(voice):
        return None
    told = {mark: str(side) for mark, side in known.words.get("side", {}).items() if side}
    weighed = [_weighed(lack, first, second, told) for first, second in _pairs(lack)]
    weight, sides = max(weighed, key=lambda one: one[0], default=(0.0, None))
    if sides is None or weight < LEAST:
        return None
    for shape in shapes:
        if shape.event in (*TALK, "refused") and _lacks(shape):
            said = [side for mark, side in sides.means.items() if mark in _marks(shape)]
            shape.set |= {"side": said[0]} if len(said) == 1 else {}
    return sides


def _weighed(shapes: Sequence[Shape], first: str, second: str, told: Mapping[str, str]) -> tuple[float, Sides]:
    """How much speaks for two marks, and what they mean; what the keeper said decides."""
    side = told.get(first) or OTHER.get(told.get(second, ""))
    if side:
        return TOLD, Sides({first: side, second: OTHER[side]}, False)
    weight = _weight(shapes, first, second)
    side = "air" if weight >= 0 else "link"
    return abs(weight), Sides({first: side, second: OTHER[side]}, abs(weight) < SURE)


def _lacks(shape: Shape) -> bool:
    return shape.column("side") is None and "side" not in shape.set


def _lines(shapes: Sequence[Shape]) -> int:
    return sum(len(shape.rows) for shape in shapes)


def _marks(shape: Shape) -> set[str]:
    """The words and marks of a shape's fixed text."""
    return {mark.lower() for part in shape.parts if isinstance(part, str) for mark in _MARKS.findall(part)}


def _pairs(shapes: Sequence[Shape]) -> Iterator[tuple[str, str]]:
    """Two marks of which nearly every line has exactly one, and either event has both."""
    marks = [(shape, _marks(shape)) for shape in shapes]
    every = sorted({mark for _, some in marks for mark in some})
    counts = {mark: sum(len(shape.rows) for shape, some in marks if mark in some) for mark in every}
    total = _lines(shapes)
    likely = [mark for mark in every if 0.02 * total < counts[mark] < 0.98 * total]
    for first, second in combinations(likely, 2):
        one = [
            (shape, mark in some) for mark in (first,) for shape, some in marks if (first in some) != (second in some)
        ]
        if sum(len(shape.rows) for shape, _ in one) >= COVERED * total and _in_each_event(one):
            yield first, second


def _in_each_event(one: Sequence[tuple[Shape, bool]]) -> bool:
    events = {shape.event for shape, _ in one}
    return all({has for shape, has in one if shape.event == event} == {True, False} for event in events)


def _weight(shapes: Sequence[Shape], first: str, second: str) -> float:
    """How much speaks for the first mark's being the air and the second's the link: what they are spelt like, and what
    was measured.
    """
    spelt = (_airy_word(first) - _airy_word(second)) / 2
    return (
        spelt
        + _airy([one for one in shapes if first in _marks(one)])
        - _airy([one for one in shapes if second in _marks(one)])
    )


def _airy_word(mark: str) -> float:
    side = trade.side_of(mark)
    short = trade.SHORT_SIDES.get(mark)
    return {"air": 1.0, "link": -1.0}.get(side or "", 0.0) or {"air": 0.5, "link": -0.5}.get(short or "", 0.0)


def _airy(shapes: Sequence[Shape]) -> float:
    """How much speaks for overs received by radio: level and errors are measured there, loss on a link; analogue comes
    by radio.
    """
    weight = 0.0
    for shape in shapes:
        lines = len(shape.rows)
        weight += lines * 1.0 * (shape.column("rssi_dbm") is not None) - lines * 1.0 * (
            shape.column("loss_pct") is not None
        )
        weight += lines * 0.5 * (shape.column("ber_pct") is not None) + 0.5 * lines * (shape.set.get("mode") == "fm")
        mode = shape.column("mode")
        spelt = mode.counts.items() if mode is not None else ()
        weight += 0.5 * sum(count for value, count in spelt if (trade.mode_of(value) or {}).get("mode") == "fm")
    return weight / max(1, _lines(shapes))
