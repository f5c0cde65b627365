"""Lines of pairs, `key=value` or `key: value`, to shapes whose columns have the host's names for them."""

import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from parsers.adopt import trade
from parsers.adopt.eventfield import event_field
from parsers.adopt.model import Column, Shape
from parsers.adopt.tokens import STAMP

ENOUGH = 0.4  #: share of the lines that must be pairs and nothing else
_EQUALS = re.compile(r"(?:(?<=^)|(?<=[\s,;|(\[{]))([A-Za-z_][\w.-]{0,30})=")
_COLONS = re.compile(r"(?:(?<=^)|(?<=[\]>:\d\x01A-Z] )|(?<=[,;|] )|(?<=[,;|]))([A-Za-z_][\w.-]{0,30}): ")
#: What may stand before the first pair: marks, a level, a program with its process id, a counter, a thread.
_MARKS = r"(?:\W|\d|[A-Za-z][\w.-]{0,20}\[\d+\]|<[\w-]{1,24}>)*"
_TAG = re.compile(rf"{_MARKS}(?:[A-Z]{{4,8}}\b(?![=:]))?{_MARKS}")
_SEPARATORS = " \t,;|"


@dataclass(frozen=True)
class Pairs:
    """One line as text and pairs: `texts` stand before, between and after the values."""

    texts: tuple[str, ...]
    keys: tuple[str, ...]
    values: tuple[str, ...]


def pairs_of(text: str) -> Pairs | None:
    """A line's pairs; None where it has less than two, or words before the first one that are no tag."""
    tag = _TAG.match(text)
    body = tag.end() if tag else 0
    equals, colons = list(_EQUALS.finditer(text, body)), list(_COLONS.finditer(text, body))
    found = equals if len(equals) >= max(2, len(colons)) else colons
    if len(found) < 2 or found[0].start() > body or len({match[1] for match in found}) < len(found):
        return None
    texts, values, at = [], [], 0
    for number, match in enumerate(found):
        stop = found[number + 1].start() if number + 1 < len(found) else len(text)
        start, end = match.end(), match.end() + len(text[match.end() : stop].rstrip(_SEPARATORS))
        if end - start >= 2 and text[start] == '"' == text[end - 1]:
            start, end = start + 1, end - 1
        texts.append(text[at:start])
        values.append(text[start:end])
        at = end
    return Pairs((*texts, text[at:]), tuple(match[1] for match in found), tuple(values))


def pair_shapes(lines: Sequence[str], rows: Sequence[int]) -> tuple[list[Shape], list[int]]:
    """Shapes of the lines that are pairs, and which lines are none; no shapes where too few are. `lines` have STAMP
    where their stamp was.
    """
    told = [pairs_of(line) for line in lines]
    found = [at for at, one in enumerate(told) if one is not None]
    if len(found) < ENOUGH * len(lines):
        return [], list(range(len(lines)))
    pairs = [one for one in told if one is not None]
    records = [dict(zip(one.keys, one.values, strict=True)) for one in pairs]
    names = [name for name, count in Counter(key for one in pairs for key in one.keys).items() if count > 1]
    told_by = event_field(records, names, None)
    chosen = [told_by] if told_by else []
    groups: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for at, (one, record) in enumerate(zip(pairs, records, strict=True)):
        masked = (re.sub(r"\d+", "\x02", one.texts[0]), *one.texts[1:])
        groups[(masked, one.keys, tuple(record.get(name) for name in chosen))].append(at)
    shapes = [_shape([pairs[at] for at in ats], [rows[found[at]] for at in ats], chosen) for ats in groups.values()]
    taken = set(found)
    return shapes, [at for at in range(len(lines)) if at not in taken]


def _shape(members: Sequence[Pairs], rows: list[int], chosen: Sequence[str]) -> Shape:
    first = members[0]
    columns: list[Column] = []
    parts: list[str | int] = []
    append_tag(parts, columns, [one.texts[0] for one in members])
    for place, key in enumerate(first.keys):
        if place:
            append_text(parts, first.texts[place])
        if key in chosen:
            append_text(parts, first.values[place])
        elif first.values[place] == STAMP:
            parts.append(-1)
        else:
            parts.append(len(columns))
            columns.append(
                Column([one.values[place] for one in members], name=key, left=tuple(trade.spaced(key).split()))
            )
    append_text(parts, first.texts[-1])
    words = re.findall(r"[a-z]+", trade.spaced(first.texts[0].rpartition(first.keys[0])[0]))
    words += [
        word
        for key, value in zip(first.keys, first.values, strict=True)
        if key in chosen
        for word in trade.spaced(value).split()
    ]
    return Shape(rows, columns, parts, words=words, when={})


def append_tag(parts: list[str | int], columns: list[Column], texts: Sequence[str]) -> None:
    """Adds what stands before the values, the same in all lines but for its numbers: a number in a tag goes with a run
    of the host, however
    long it stays the same."""
    heads = [re.split(r"(\d+)", text) for text in texts]
    for place, piece in enumerate(heads[0]):
        if place % 2:
            parts.append(len(columns))
            columns.append(Column([head[place] for head in heads], of_run=True))
        elif piece:
            append_text(parts, piece)


def append_text(parts: list[str | int], text: str) -> None:
    """Adds literal text, with -1 for a stamp in it; texts run together."""
    for number, piece in enumerate(text.split(STAMP)):
        if number:
            parts.append(-1)
        if piece and parts and isinstance(parts[-1], str):
            parts[-1] += piece
        elif piece:
            parts.append(piece)
