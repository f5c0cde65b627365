"""Shapes of text that differ only in words where another has a value: those words are values too, and the shapes are
one.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from parsers.adopt import trade, vocabulary
from parsers.adopt.model import Column, Shape
from parsers.adopt.tokens import BLANK, MARK, NOTHING, STAMP, WORD, kind, tokens

MOST_WORDS = 3  #: a value holds no more words
PASSES = 6
MOST_SHAPES = 300  #: a log of more is rubbish beyond them
#: words that no value is merged with
EVENTLIKE = rf"(?:{vocabulary.REFUSED})|start(?:s|ed)?|end(?:s|ed)?|begins?|opens?|closed?|shuts?"
Piece = str | int
Gap = tuple[tuple[Piece | None, ...], tuple[Piece | None, ...]]


@dataclass(frozen=True)
class Filler:
    """What stands in a gap of a shape: pieces from `start` up to `stop`."""

    shape: int
    start: int
    stop: int


def merged(shapes: Sequence[Shape]) -> list[Shape]:
    """The shapes, those that belong together made one, the largest first."""
    ranked = sorted(shapes, key=lambda shape: -len(shape.rows))
    found, rest = ranked[:MOST_SHAPES], ranked[MOST_SHAPES:]
    for _ in range(PASSES):
        pieces = [_pieces(shape) for shape in found]
        groups = _groups(found, pieces)
        if not groups:
            break
        taken: set[int] = set()
        new = []
        for group in groups:
            if not any(filler.shape in taken for filler in group):
                taken |= {filler.shape for filler in group}
                new.append(_one([found[one.shape] for one in group], [pieces[one.shape] for one in group], group))
        found = [*new, *(shape for number, shape in enumerate(found) if number not in taken)]
    return sorted([*found, *rest], key=lambda shape: -len(shape.rows))


def _pieces(shape: Shape) -> list[Piece]:
    """Words, marks and blanks one by one; a column is its number, the stamp -1."""
    out: list[Piece] = []
    for part in shape.parts:
        out += tokens(part) if isinstance(part, str) else [part]
    return out


def _groups(shapes: Sequence[Shape], pieces: Sequence[Sequence[Piece]]) -> list[list[Filler]]:
    """Gaps that shapes have in common, in one as a column and in others as words; those of most lines first."""
    seen = {value for shape in shapes for column in shape.columns for value in column.counts if kind(value) == WORD}
    gaps: dict[Gap, list[Filler]] = defaultdict(list)
    for number, shape in enumerate(shapes):
        if shape.parts and not any(column.name for column in shape.columns):
            for start, stop in _fillers(pieces[number]):
                gaps[_gap(pieces[number], start, stop)].append(Filler(number, start, stop))
    found = []
    for some in gaps.values():
        alike = list({filler.shape: filler for filler in some}.values())
        if len(alike) > 1 and _values(shapes, pieces, alike, seen):
            found.append(alike)
    return sorted(found, key=lambda alike: -sum(len(shapes[one.shape].rows) for one in alike))


def _fillers(pieces: Sequence[Piece]) -> Iterator[tuple[int, int]]:
    """Columns, and runs of a few words."""
    for start, piece in enumerate(pieces):
        if isinstance(piece, int):
            if piece >= 0:
                yield start, start + 1
            continue
        stop, words = start, 0
        while words < MOST_WORDS and stop < len(pieces) and _is_word(pieces[stop]):
            yield start, stop + 1
            words += 1
            stop += 2
            if stop >= len(pieces) or pieces[stop - 1] != " ":
                break


def _is_word(piece: Piece) -> bool:
    return isinstance(piece, str) and piece != STAMP and kind(piece) not in (BLANK, MARK)


def _gap(pieces: Sequence[Piece], start: int, stop: int) -> Gap:
    """What stands around, columns without their numbers."""
    before, after = pieces[:start], pieces[stop:]
    return tuple(_nameless(one) for one in before), tuple(_nameless(one) for one in after)


def _nameless(piece: Piece) -> Piece | None:
    return None if _is_open(piece) else piece


def _is_open(piece: Piece) -> bool:
    """Whether a value stands here: a column, or a word that is spelt as a side or as nobody."""
    if isinstance(piece, int):
        return piece >= 0
    return bool(piece.strip()) and (
        piece in NOTHING or (len(piece) > 2 and (trade.side_of(piece) is not None or trade.nobody(piece)))
    )


def _values(
    shapes: Sequence[Shape], pieces: Sequence[Sequence[Piece]], alike: Sequence[Filler], seen: set[str]
) -> bool:
    """Whether one of them has a value there, not only numbers, and the others' words may be values too, or are values
    elsewhere.
    """
    columns = [
        shapes[one.shape].columns[piece] for one in alike if isinstance(piece := pieces[one.shape][one.start], int)
    ]
    texts = [_text(pieces[one.shape], one) for one in alike if not isinstance(pieces[one.shape][one.start], int)]
    if not columns and not any(map(_is_open, texts)):
        return all(map(trade.side_of, texts)) or all(map(trade.cause_of, texts)) or all(text in seen for text in texts)
    if any(trade.says(EVENTLIKE, trade.spaced(text)) for text in texts):
        return False
    worded = any(
        kind(value) == WORD or trade.nobody(value) or trade.is_callsign(value)
        for column in columns
        for value in column.counts
    )
    return worded or not columns or any(map(trade.nobody, texts))


def _text(pieces: Sequence[Piece], filler: Filler) -> str:
    return "".join(map(str, pieces[filler.start : filler.stop]))


def _one(shapes: Sequence[Shape], pieces: Sequence[Sequence[Piece]], fillers: Sequence[Filler]) -> Shape:
    """Shapes that are one but for what stands in a gap, as one shape with a column there."""
    aligned = [[*some[: one.start], (one,), *some[one.stop :]] for some, one in zip(pieces, fillers, strict=True)]
    parts: list[str | int] = []
    values: list[list[str]] = []
    for place, piece in enumerate(aligned[0]):
        said = [some[place] for some in aligned]
        if all(one == piece and isinstance(one, str) for one in said) or piece == -1:
            if isinstance(piece, str) and parts and isinstance(parts[-1], str):
                parts[-1] += piece
            else:
                parts.append(piece)  # type: ignore[arg-type]
            continue
        parts.append(len(values))
        column: list[str] = []
        for shape, some, one in zip(shapes, pieces, said, strict=True):
            column += _said(shape, some, one)
        values.append(column)
    rows = [row for shape in shapes for row in shape.rows]
    order = sorted(range(len(rows)), key=lambda at: rows[at])
    return Shape([rows[at] for at in order], [Column([column[at] for at in order]) for column in values], parts)


def _said(shape: Shape, pieces: Sequence[Piece], one: Piece | tuple[Filler]) -> list[str]:
    """What the lines of a shape have at one place."""
    if isinstance(one, tuple):
        piece = pieces[one[0].start]
        return shape.columns[piece].values if isinstance(piece, int) else [_text(pieces, one[0])] * len(shape.rows)
    return shape.columns[one].values if isinstance(one, int) else [one] * len(shape.rows)
