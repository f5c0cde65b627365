"""The front end: from an opened sample to shapes with columns. Rows of tables first, then pairs, brackets, and text."""

import re
from collections.abc import Sequence

from parsers.adopt.brackets import bracket_shapes
from parsers.adopt.eventfield import event_field
from parsers.adopt.model import Sample, Shape
from parsers.adopt.pairs import pair_shapes
from parsers.adopt.shaping import stamped_out, text_shapes
from parsers.adopt.tables import table_shapes

CUT_LINES, COMMON_LINES, LOOKED_AT = 2, 30, 200


def shapes_of(sample: Sample) -> list[Shape]:
    """The shapes of a sample: of a table its rows, of text its pairs, then what is left, brackets and quotes being one
    value.
    """
    rows = [row for row in range(len(sample.lines)) if (sample.records[row] if sample.is_table else sample.texts[row])]
    if sample.is_table:
        return table_shapes(sample, rows, _tells_apart)
    lines = stamped_out(sample, rows)
    shapes, left = pair_shapes(lines, rows)
    if not shapes:
        shapes, left = bracket_shapes(lines, rows)
    if left:
        shapes += text_shapes([rows[at] for at in left], [lines[at] for at in left])
    return without_cut(sorted(shapes, key=lambda shape: -len(shape.rows)), sample)


def without_cut(shapes: Sequence[Shape], sample: Sample) -> list[Shape]:
    """The shapes without those of a line or two that begin as a common one does, are shorter and say nothing new: they
    were cut.
    """
    common = [shape for shape in shapes if len(shape.rows) >= COMMON_LINES]
    heads = [(head, _shortest(shape, sample)) for shape in common if len(head := _head(shape)) > 3]
    words = {word for shape in common for row in shape.rows[:LOOKED_AT] for word in _words(sample.texts[row] or "")}

    def is_cut(text: str) -> bool:
        begun = any(head in _masked(text) and len(text) < shortest for head, shortest in heads)
        return _open_ended(text) or (begun and all(word in words for word in _words(text)[:-1]))

    return [
        shape
        for shape in shapes
        if len(shape.rows) > CUT_LINES or not any(is_cut(sample.texts[row] or "") for row in shape.rows)
    ]


def _open_ended(text: str) -> bool:
    return text.count("[") != text.count("]") or text.count('"') % 2 == 1


def _words(text: str) -> list[str]:
    return re.findall(r"[A-Za-z]{3,}", text)


def _shortest(shape: Shape, sample: Sample) -> int:
    """So long are nearly all lines of a shape."""
    lengths = sorted(len(sample.texts[row] or "") for row in shape.rows)
    return lengths[len(lengths) // 20]


def _head(shape: Shape) -> str:
    """What stands before a shape's first value, without numbers and stamp."""
    out = ""
    for part in shape.parts:
        if isinstance(part, str):
            out += part
        elif part >= 0 and not shape.columns[part].of_run:
            break
        elif part >= 0:
            out += "0"
        else:
            out = ""
    return _masked(out).strip()


def _masked(text: str) -> str:
    return re.sub(r"\d+", "0", text)


def _tells_apart(records: Sequence[dict[str, str]], names: Sequence[str], stamp: str | None) -> list[str]:
    told_by = event_field(records, names, stamp)
    return [told_by] if told_by else []
