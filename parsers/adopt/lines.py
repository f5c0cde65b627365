"""From a shape to its [[line]]: a template where one reads the shape's lines as they are meant, else a pattern."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from parsers.adopt.model import Column, Sample, Shape
from parsers.constants import BLANKS
from parsers.shapes import compile_pattern, compile_template
from parsers.time_forms import WORD, time_form

LOOKED_AT = 160  #: lines of a shape on which a template is tried
SPELT_OUT = 40  #: so many values with blanks in them are spelt out in a pattern
WORDED = ("mode", "side", "slot", "cause", "reason")
UNIT = r"^ ?(?:s|ms)\b"  #: what a {duration} understands behind its number


@dataclass
class Entry:
    """One [[line]]."""

    shape: Shape
    event: str
    text: str | None = None
    pattern: str | None = None
    when: Mapping[str, str] | None = None
    set: Mapping[str, Any] = field(default_factory=dict)
    fields: Mapping[str, str] = field(default_factory=dict)
    samples: list[tuple[str, dict[str, Any]]] = field(default_factory=list)


@dataclass(frozen=True)
class Hole:
    """A place in a line that changes; `column` is None for the stamp."""

    name: str
    column: Column | None = None
    united: bool = False  #: whether a unit stands behind it that its value takes in


Part = str | Hole


def entry_of(shape: Shape, sample: Sample, time: str, strict: bool = False) -> Entry:
    """The [[line]] of a shape; `strict` as a pattern in any case."""
    keys = {column.key for column in shape.columns}
    constants = {} if shape.event == "ignore" else {k: v for k, v in shape.set.items() if k not in keys}
    if sample.is_table:
        return Entry(shape, shape.event, when=shape.when, set=constants)
    parts = list(_parts(shape))
    tail = sample.stamping.tail if sample.stamping else 0
    tried: list[tuple[float, Entry]] = []
    if not strict and not tail and _can_be_template(parts):
        text = "".join("{" + part.name + "}" if isinstance(part, Hole) else part for part in parts).strip()
        worth = _fits(compile_template(text, time_form(time), shape.event).exact, parts, shape, sample)
        tried.append((worth, Entry(shape, shape.event, text=text, set=constants)))
        if worth >= 0.999:
            return tried[0][1]
    pattern = _pattern(parts, time, tail)
    worth = _fits(compile_pattern(pattern, shape.event).exact, parts, shape, sample)
    tried.append((worth + 1e-6 * strict, Entry(shape, shape.event, pattern=pattern, set=constants)))
    return max(tried, key=lambda one: one[0])[1]


def _parts(shape: Shape) -> Iterator[Part]:
    """The parts of a shape, its columns as holes, each name once; a unit behind a duration goes into the hole."""
    taken: set[str] = set()
    for place, part in enumerate(shape.parts):
        if isinstance(part, str):
            before = shape.parts[place - 1] if place else -1
            timed = isinstance(before, int) and before >= 0 and shape.columns[before].key == "duration"
            text = re.sub(UNIT, "", part) if timed and shape.event != "ignore" else part
            if text:
                yield text
            continue
        name = "t" if part == -1 else shape.columns[part].key if shape.event != "ignore" else "_"
        after = shape.parts[place + 1] if place + 1 < len(shape.parts) else ""
        united = name == "duration" and isinstance(after, str) and re.match(UNIT, after) is not None
        yield Hole("_" if name in taken else name, None if part == -1 else shape.columns[part], united)
        taken.add(name)


def _can_be_template(parts: Sequence[Part]) -> bool:
    literal = "".join(part for part in parts if isinstance(part, str))
    beside = any(isinstance(a, Hole) and isinstance(b, Hole) for a, b in pairwise(parts))
    return not beside and "{" not in literal and "}" not in literal


def _fits(expression: str, parts: Sequence[Part], shape: Shape, sample: Sample) -> float:
    """The share of the shape's lines from which an expression takes what its columns hold."""
    reads = re.compile(expression)
    rows = range(0, len(shape.rows), max(1, len(shape.rows) // LOOKED_AT))
    wanted = [part for part in parts if isinstance(part, Hole) and part.column is not None and part.name != "_"]
    right = 0
    for at in rows:
        match = reads.search((sample.texts[shape.rows[at]] or "").strip(BLANKS))
        right += match is not None and all(_same(match[hole.name], hole.column, at) for hole in wanted)
    return right / max(1, len(rows))


def _same(found: str | None, column: Column | None, at: int) -> bool:
    held = column.values[at].strip() if column is not None else ""
    found = (found or "").strip()
    return found == held or (
        column is not None and column.key == "duration" and re.sub(UNIT + "$", "", found[len(held) :]) == ""
    )


def _pattern(parts: Sequence[Part], time: str, tail: int) -> str:
    out = "^"
    for place, part in enumerate(parts):
        if isinstance(part, str):
            out += r"[ \t]+".join(re.escape(word).replace("'", "\\x27") for word in re.split(r"[ \t]+", part))
        elif part.column is None and part.name == "t":
            stamp = r"[0-9]{13}" if tail else time_form(time).words.replace(WORD, r"[^ \t]+?")
            out += f"(?P<t>{stamp})" + (rf"[0-9]{{{tail}}}" if tail else "")
        else:
            takes = _takes(part, last=place == len(parts) - 1)
            out += (f"(?P<{part.name}>" if part.name != "_" else "(?:") + takes + ")"
    return out + "$"


def _takes(hole: Hole, *, last: bool) -> str:
    """What a hole takes: the values that hold blanks as they are spelt, else text of the characters its values have."""
    every = list(hole.column.counts if hole.column else {})
    spaced = [value for value in every if " " in value or "\t" in value]
    if not any(every) or len(spaced) > SPELT_OUT or hole.united:
        return ".*" if last else ".*?"
    if (
        hole.name in WORDED
        and len(every) <= SPELT_OUT
        and all(re.search("[A-Za-z]", value) for value in every if value)
    ):
        return _any_of(every)
    plain = _plain(every)
    return f"(?:{_any_of(spaced)}|{plain})" if spaced else plain


def _plain(values: Sequence[str]) -> str:
    """Text without blanks, of the marks that values have, with a digit where all have one."""
    marks = "".join(re.escape(mark) for mark in ',;:=|()[]<>"' if not any(mark in value for value in values))
    some = rf"[^ \t{marks}]"
    if not all(values):
        return rf"{some}*"
    numbered = all(any(char.isdigit() for char in value) for value in values)
    return rf"{some}*[0-9]{some}*" if numbered else rf"{some}+"


def _any_of(values: Sequence[str]) -> str:
    return "(?:" + "|".join(map(_spelt, sorted(values, key=len, reverse=True))) + ")"


def _spelt(value: str) -> str:
    return r"[ \t]+".join(re.escape(word).replace("'", "\\x27") for word in value.split())
