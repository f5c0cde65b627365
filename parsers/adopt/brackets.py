"""Lines whose values stand in brackets one after another, `verb [QA1XYZ] [DMR] [12.4s]`, to shapes: every bracket is a
value, blanks or not.
"""

import re
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from parsers.adopt import trade
from parsers.adopt.model import Column, Shape
from parsers.adopt.pairs import append_tag, append_text
from parsers.adopt.tokens import NOTHING

ENOUGH = 0.4  #: share of the lines that must be of this kind
_LINE = re.compile(r"^(?P<head>.*[^\]\s])\s*(?P<cells>(?:\[[^\[\]\x01]*\]\s*){2,})$")
_CELL = re.compile(r"\[([^\[\]]*)\]")
ANY = "-"  #: the sort of a value that is missing
LENGTH = r"[0-9]+:[0-9:.]+|[0-9]+m[0-9]+s|[0-9.,]+ ?(?:m?s|sec\w*)"
SORTS: tuple[tuple[str, Callable[[str], bool]], ...] = (
    ("mode", lambda value: trade.mode_of(value) is not None),
    ("slot", lambda value: not value.isdigit() and trade.slot_of(value) is not None),
    ("side", lambda value: trade.side_of(value) is not None),
    ("share", lambda value: re.fullmatch(r"[0-9.,]+\s?%", value) is not None),
    ("level", lambda value: re.fullmatch(r"-?[0-9.,]+\s?dBm?|-[0-9]{2,3}", value) is not None),
    ("length", lambda value: re.fullmatch(LENGTH, value) is not None),
    ("decimal", lambda value: re.fullmatch(r"[0-9]+[.,][0-9]+", value) is not None),
)  # fmt: skip


@dataclass
class Group:
    """Lines with the same words before their brackets, and brackets of the same sorts."""

    sorts: list[str]
    ats: list[int]


def bracket_shapes(lines: Sequence[str], rows: Sequence[int]) -> tuple[list[Shape], list[int]]:
    """Shapes of the lines of this kind, and which lines are not; no shapes where too few are. `lines` have STAMP where
    their stamp was.
    """
    found = [_LINE.match(line) for line in lines]
    if sum(match is not None for match in found) < ENOUGH * len(lines):
        return [], list(range(len(lines)))
    known: dict[str, str] = {}
    heads: dict[tuple[str, int], dict[tuple[str, ...], list[int]]] = defaultdict(lambda: defaultdict(list))
    values: dict[int, list[str]] = {}
    for at, match in enumerate(found):
        if match is not None:
            values[at] = [value.strip() for value in _CELL.findall(match["cells"])]
            sorts = tuple(known.setdefault(value, _sort(value)) for value in values[at])
            heads[(re.sub(r"\d+", "\x02", match["head"]), len(sorts))][sorts].append(at)
    shapes = []
    for members in heads.values():
        for group in _merged(members):
            fronts = [match["head"] for at in group.ats if (match := found[at]) is not None]
            shapes.append(_shape(group, [rows[at] for at in group.ats], fronts, values))
    return shapes, [at for at, match in enumerate(found) if match is None]


def _sort(value: str) -> str:
    if value in NOTHING or not value or trade.nobody(value):
        return ANY
    return next((name for name, test in SORTS if test(value)), "word")


def _merged(members: dict[tuple[str, ...], list[int]]) -> list[Group]:
    """Lines whose brackets are of the same sorts wherever both have a value."""
    groups: list[Group] = []
    for sorts, ats in sorted(members.items(), key=lambda one: (one[0].count(ANY), -len(one[1]))):
        home = next(
            (
                group
                for group in groups
                if all(a == b or ANY in (a, b) for a, b in zip(group.sorts, sorts, strict=True))
            ),
            None,
        )
        if home is None:
            groups.append(Group(list(sorts), list(ats)))
        else:
            home.sorts = [b if a == ANY else a for a, b in zip(home.sorts, sorts, strict=True)]
            home.ats += ats
    for group in groups:
        group.ats.sort()
    return groups


def _shape(group: Group, rows: list[int], heads: Sequence[str], values: dict[int, list[str]]) -> Shape:
    parts: list[str | int] = []
    columns: list[Column] = []
    append_tag(parts, columns, heads)
    append_text(parts, " ")
    for place in range(len(group.sorts)):
        append_text(parts, "[" if not place else " [")
        parts.append(len(columns))
        columns.append(Column([values[at][place] for at in group.ats]))
        append_text(parts, "]")
    words = [word for part in parts[:-1] if isinstance(part, str) for word in trade.spaced(part).split()]
    return Shape(rows, columns, parts, words=words)
