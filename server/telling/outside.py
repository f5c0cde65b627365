"""Text from outside, with nothing in it that acts or hides."""

import unicodedata
from dataclasses import dataclass
from itertools import groupby

from shared.numbers import grouped


@dataclass(frozen=True)
class VisibleText:
    """A piece of text from a log; `mark` where it stands for a character that would not be seen, or would
    move others.
    """

    text: str
    mark: bool = False


SHOWN = 240  # characters of one log line that a page shows


def visible(text: str, limit: int = SHOWN) -> tuple[VisibleText, ...]:
    """Text from outside with every control, format and unassigned character spelt out: nothing in
    it acts, all of it shows.
    """
    pieces: list[VisibleText] = []
    marks_in_a_row = 0
    for character, run in groupby(text[:limit]):
        times = len(list(run))
        category = unicodedata.category(character)
        marks_in_a_row = marks_in_a_row + times if category.startswith("M") else 0
        if category[0] == "C" or category in ("Zl", "Zp") or marks_in_a_row > 2:
            pieces.append(VisibleText(_spelt(character) + (f" × {times}" if times > 1 else ""), mark=True))
        elif pieces and not pieces[-1].mark:
            pieces[-1] = VisibleText(pieces[-1].text + character * times)
        else:
            pieces.append(VisibleText(character * times))
    if len(text) > limit:
        pieces.append(VisibleText(f"… {grouped(len(text) - limit)} more characters", mark=True))
    return tuple(pieces)


def plain_name(text: str, limit: int = 80) -> str:
    """A name from outside in one piece, for a table or a sentence: nothing in it acts, hides or moves others."""
    shown = "".join(piece.text for piece in visible(text, limit))
    turns = any(unicodedata.bidirectional(character) in ("R", "AL", "AN") for character in shown)
    return f"\u2068{shown}\u2069" if turns else shown  # an isolate: it is read from right to left by itself


def _spelt(character: str) -> str:
    names = {"\0": "NUL", "\t": "TAB", "\n": "LF", "\r": "CR", "\x1b": "ESC", "\x7f": "DEL", "\ufeff": "BOM"}
    return names.get(character, f"U+{ord(character):04X}")
