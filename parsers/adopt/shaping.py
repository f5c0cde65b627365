"""From an opened sample to shapes with columns: lines of text by grouping; rows of tables see tables.py."""

import re
from collections import defaultdict
from collections.abc import Callable, Sequence

from parsers.adopt import trade, vocabulary
from parsers.adopt.alternatives import merged
from parsers.adopt.grouping import Group, group_lines
from parsers.adopt.model import Column, Sample, Shape
from parsers.adopt.tables import FEW, event_sort
from parsers.adopt.tokens import BLANK, MARK, STAMP, TARGET, kind, sameness, tokens

WEAK_MODES = {"page", "pag", "poc", "star", "pager", "paging", "ds", "apc", "analog", "analogue", "tdma"}


def stamped_out(sample: Sample, rows: Sequence[int]) -> list[str]:
    """The texts of some lines, STAMP where their stamp was."""
    spelling = re.compile(sample.stamping.spelling) if sample.stamping and sample.stamping.spelling else None
    tail = rf"\d{{{sample.stamping.tail}}}" if sample.stamping and sample.stamping.tail else ""
    whole = re.compile(spelling.pattern + tail) if spelling and tail else spelling
    lines = []
    for row in rows:
        text = sample.texts[row] or ""
        if whole is not None:
            text = whole.sub(STAMP, text, count=1)
        lines.append(text)
    return lines


def text_shapes(rows: Sequence[int], texts: Sequence[str]) -> list[Shape]:
    """The shapes of lines of text, STAMP where their stamp was; what stands in quotes or brackets is one value."""
    lines = [joined_modes(tokens(text)) for text in texts]
    targets = {found for text in texts for found in TARGET.findall(text)}

    def varies(word: str) -> bool:
        return word in targets or (sameness(word) not in WEAK_MODES and trade.mode_of(word) is not None)

    shapes = []
    for group in group_lines(lines, varies):
        shapes += _split([_shape(group, lines, rows, varies)])
    shapes = merged(shapes)
    for shape in shapes:
        _contexts(shape)
    return shapes


def joined_modes(pieces: Sequence[str]) -> list[str]:
    """Pieces with the two words of a mode's name as one."""
    out: list[str] = []
    for piece in pieces:
        words = len(out) > 1 and out[-1] == " " and all(len(word) > 1 and word.isalnum() for word in (out[-2], piece))
        if words and trade.mode_of(f"{out[-2]} {piece}") and not trade.slot_of(piece) and trade.mode_of(piece):
            out[-2:] = [f"{out[-2]} {piece}"]
        else:
            out.append(piece)
    return out


def _shape(group: Group, lines: Sequence[Sequence[str]], rows: Sequence[int], varies: Callable[[str], bool]) -> Shape:
    """Columns from the holes of a group, holes side by side made one; fixed text runs together."""
    first = lines[group.rows[0]]
    parts: list[str | int] = []
    values: list[list[str]] = []
    for place, fixed in enumerate(group.fixed):
        piece = first[place]
        if piece == STAMP:
            parts.append(-1)
        elif kind(piece) == BLANK or (
            fixed is not None and not _is_who(piece, parts) and not (kind(piece) != MARK and varies(piece))
        ):
            literal = " " if kind(piece) == BLANK else piece
            if parts and isinstance(parts[-1], str):
                parts[-1] += literal
            else:
                parts.append(literal)
        else:
            new = [lines[row][place] for row in group.rows]
            if parts and isinstance(parts[-1], int) and parts[-1] >= 0:
                values[-1] = [a + b for a, b in zip(values[-1], new, strict=True)]
            else:
                parts.append(len(values))
                values.append(new)
    parts, values = _prefixes(parts, values)
    shape = Shape([rows[row] for row in group.rows], [Column(column) for column in values], parts)
    _contexts(shape)
    return shape


def _is_who(piece: str, before: Sequence[str | int]) -> bool:
    """Whether a piece that is the same in all lines is a call sign where the words before it tell of a station: the
    next line has another.
    """
    if not trade.is_callsign(piece) or not before or not isinstance(before[-1], str):
        return False
    words = re.findall(r"[^\W\d_]+", before[-1].lower())
    return bool(words) and words[-1] in vocabulary.STATION_NAMES


def _prefixes(parts: list[str | int], values: list[list[str]]) -> tuple[list[str | int], list[list[str]]]:
    """Letters before the number in every value (`TS` of TS1 and TS2) become fixed text; so do letters after it that are
    no unit.
    """
    out: list[str | int] = []
    for part in parts:
        if not isinstance(part, int) or part < 0:
            _append(out, part)
            continue
        front = _front(values[part])
        if front and not _names_a_target(out[-1] if out else "", front):
            _append(out, front)
            values[part] = [value[len(front) :] for value in values[part]]
        unit = _unit(values[part])
        _append(out, part)
        if unit:
            values[part] = [value[: -len(unit)] for value in values[part]]
            _append(out, unit)
    return out, values


NUMBER = r"[-+]?[0-9]+(?:[.,][0-9]+)?"


def _front(column: Sequence[str]) -> str:
    """The letters before the number that all values of a column have."""
    filled = list(dict.fromkeys(column))
    found = [re.fullmatch(rf"((?:[A-Za-z#@&_.]+[-=:]?|[#@&])){NUMBER}", value) for value in filled]
    fronts = {match[1] for match in found if match}
    known = any(trade.mode_of(value) or trade.slot_of(value) for value in filled)
    return fronts.pop() if len(fronts) == 1 and all(found) and not known else ""


def _unit(column: Sequence[str]) -> str:
    """The letters behind the number that all values of a column have, and that are no unit that a hole understands."""
    found = [re.fullmatch(rf"{NUMBER}([A-Za-z]+|%)", value) for value in dict.fromkeys(column)]
    units = {match[1] for match in found if match}
    unit = units.pop() if len(units) == 1 and all(found) else ""
    return unit if unit.lower() not in ("s", "ms", "m", "h", "dbm", "%") or unit in ("S", "MS", "Ms") else ""


def _names_a_target(before: str | int, front: str) -> bool:
    """Whether the letters before a number are a name's own (`calling HILL2`), not a label (`to TG 2`): a word follows
    that says what comes.
    """
    said = re.findall(r"[A-Za-z]+|[-=]?>+|→", before) if isinstance(before, str) else []
    label = front.lower() in {
        *vocabulary.TARGET_NAMES,
        *vocabulary.SLOT_NAMES,
        *vocabulary.STATION_NAMES,
        *vocabulary.NETWORK_NAMES,
    }
    return (
        bool(said)
        and (said[-1].lower() in vocabulary.TARGETLY or said[-1] in vocabulary.ARROWS)
        and len(front) > 2
        and front.isalpha()
        and not label
    )


def _append(parts: list[str | int], part: str | int) -> None:
    if isinstance(part, str) and parts and isinstance(parts[-1], str):
        parts[-1] += part
    else:
        parts.append(part)


def _contexts(shape: Shape) -> None:
    """What stands around each column, and the shape's fixed words."""
    words: list[str] = []
    near: list[str] = []
    for i, part in enumerate(shape.parts):
        if isinstance(part, str):
            near = [*near, *trade.spaced(part).split()] if trade.spaced(part) else near
            marks = re.sub(r"[A-Za-z0-9\s]", "", part)
            near = near if trade.spaced(part) or not marks else [*near, marks]
            words += trade.spaced(part).split()
        elif part >= 0:
            shape.columns[part].left = tuple(near[-3:])
            after = shape.parts[i + 1] if i + 1 < len(shape.parts) else ""
            shape.columns[part].right = after if isinstance(after, str) else ""
            only = shape.columns[part].counts
            near = trade.spaced(next(iter(only))).split() if len(only) == 1 else []
    shape.words = words


def _split(shapes: list[Shape]) -> list[Shape]:
    """Takes shapes apart by columns whose few words tell sorts of line apart."""
    done: list[Shape] = []
    todo = list(shapes)
    while todo:
        shape = todo.pop()
        place = next((i for i, column in enumerate(shape.columns) if _tells_apart(column, shape)), None)
        if place is None:
            done.append(shape)
            continue
        by_value: dict[str, list[int]] = defaultdict(list)
        for at, value in enumerate(shape.columns[place].values):
            by_value[value].append(at)
        todo += [_with_fixed(shape, place, value, ats) for value, ats in by_value.items()]
    return done


def _with_fixed(shape: Shape, place: int, value: str, ats: list[int]) -> Shape:
    """The lines `ats` of a shape whose column `place` has one value. Other columns that then hold one word become
    fixed too.
    """
    parts: list[str | int] = []
    for part in shape.parts:
        if part == place:
            _append(parts, value)
        elif isinstance(part, int) and part > place:
            parts.append(part - 1)
        else:
            _append(parts, part)
    rest = [[column.values[at] for at in ats] for i, column in enumerate(shape.columns) if i != place]
    parts, rest = _constants(parts, rest)
    new = Shape([shape.rows[at] for at in ats], [Column(values) for values in rest], parts)
    _contexts(new)
    return new


def _constants(parts: list[str | int], values: list[list[str]]) -> tuple[list[str | int], list[list[str]]]:
    """Columns that hold one word alone become fixed text."""
    out: list[str | int] = []
    kept: list[list[str]] = []
    for part in parts:
        if not isinstance(part, int) or part < 0:
            _append(out, part)
        elif len(set(values[part])) == 1 and kind(values[part][0]) == "w" and trade.mode_of(values[part][0]) is None:
            _append(out, values[part][0])
        else:
            out.append(len(kept))
            kept.append(values[part])
    return out, kept


def _tells_apart(column: Column, shape: Shape) -> bool:
    """Whether a column's values are words of the trade for different sorts of event."""
    filled = [value for value, _ in column.filled()]
    if not 2 <= len(filled) <= FEW or any(trade.mode_of(value) or trade.is_callsign(value) for value in filled):
        return False
    if _codes(filled) and _is_event_code(column, filled):
        return True
    if any(kind(value) != "w" for value in filled) or all(trade.side_of(value) for value in filled):
        return False
    meanings = {event_sort(value) for value in filled}
    return len(meanings - {None}) >= 2 or (len(meanings - {None}) == 1 and None in meanings and len(filled) <= 6)


def _codes(values: Sequence[str]) -> bool:
    """Whether these are short codes and no words."""
    return all(1 <= len(value) <= 3 and not any(char.isdigit() for char in value) for value in values) and not all(
        trade.side_of(value) for value in values
    )


def _is_event_code(column: Column, values: Sequence[str]) -> bool:
    """Whether codes tell sorts of event: those with a mark in them, or two that take turns."""
    if any(not char.isalnum() for value in values for char in value):
        return True
    steps = [a != b for a, b in zip(column.values, column.values[1:], strict=False)]
    return len(values) == 2 and len(steps) >= 10 and sum(steps) / len(steps) > 0.75
