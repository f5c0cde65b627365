"""Figures in words, as a keeper would say them. Everything here is a pure function of its arguments; None is `not known`."""

import unicodedata
from dataclasses import dataclass
from itertools import groupby

from server.telling.numbers import GAP, UNKNOWN, count, duration, verb, whole_number
from shared.numbers import grouped

__all__ = [
    "GAP",
    "UNKNOWN",
    "Piece",
    "about",
    "change",
    "count",
    "duration",
    "erlang",
    "percent",
    "signed_percent",
    "verb",
    "visible",
    "whole_number",
]


def about(seconds: float | None) -> str:
    """The same for a sentence: from ten hours on, hours are enough."""
    if seconds is None:
        return UNKNOWN
    return f"{whole_number(round(seconds / 3600))}{GAP}h" if seconds >= 36_000 else duration(seconds)


def percent(share: float | None) -> str:
    """A share (0 to 1) in percent: two digits below ten."""
    if share is None:
        return UNKNOWN
    value = 100 * share
    if value == 0:
        return f"0{GAP}%"
    if value < 0.1:
        return f"under 0.1{GAP}%"
    if value < 9.95:
        return f"{value:.1f}{GAP}%"
    if 99.5 <= value < 100:
        return f"over 99{GAP}%"  # a share that is not whole must not read as if it were
    return f"{value:.0f}{GAP}%"


def erlang(traffic: float | None) -> str:
    return UNKNOWN if traffic is None else f"{traffic:.2f}{GAP}erlang"


_FRACTIONS = (
    (0.15, "a tenth"), (0.225, "a fifth"), (0.29, "a quarter"), (0.42, "a third"), (0.58, "half"), (0.7, "two thirds"),
    (0.9, "three quarters"),
)  # fmt: skip


def change(now: float | None, usual: float | None) -> str:
    """How a figure moved against its usual value, in words: `about as usual`, `up by half`, `more than three times the usual`."""
    if usual is None or now is None:
        return "nothing yet to compare with"
    if usual <= 0:
        return "new: none in the weeks before" if now > 0 else "none, as usual"
    if now <= 0:
        return "none, though there usually is some"
    moved = now / usual - 1
    if abs(moved) < 0.075:
        return "about as usual"
    if moved >= 0.9:
        times = now / usual
        return (
            "twice the usual"
            if times < 2.25
            else f"{times:.1f} times the usual"
            if times < 10
            else "over ten times the usual"
        )
    way = "up" if moved > 0 else "down"
    for limit, fraction in _FRACTIONS:
        if abs(moved) < limit:
            return f"{way} by {fraction}"
    return "almost none"


def signed_percent(now: float | None, usual: float | None) -> str | None:
    """`+52 %`, `−8 %`; None where it would say nothing."""
    if usual is None or now is None or usual <= 0 or now <= 0:
        return None
    moved = round(100 * (now / usual - 1))
    return f"{'+' if moved > 0 else '−' if moved < 0 else ''}{grouped(abs(moved))}{GAP}%"


@dataclass(frozen=True)
class Piece:
    """A piece of text from a log; `mark` where it stands for a character that would not be seen, or would move others."""

    text: str
    mark: bool = False


SHOWN = 240  # characters of one log line that a page shows


def visible(text: str, limit: int = SHOWN) -> tuple[Piece, ...]:
    """Text from outside with every control, format and unassigned character spelt out: nothing in it acts, all of it shows."""
    pieces: list[Piece] = []
    marks_in_a_row = 0
    for character, run in groupby(text[:limit]):
        times = len(list(run))
        category = unicodedata.category(character)
        marks_in_a_row = marks_in_a_row + times if category.startswith("M") else 0
        if category[0] == "C" or category in ("Zl", "Zp") or marks_in_a_row > 2:
            pieces.append(Piece(_spelt(character) + (f" × {times}" if times > 1 else ""), mark=True))
        elif pieces and not pieces[-1].mark:
            pieces[-1] = Piece(pieces[-1].text + character * times)
        else:
            pieces.append(Piece(character * times))
    if len(text) > limit:
        pieces.append(Piece(f"… {grouped(len(text) - limit)} more characters", mark=True))
    return tuple(pieces)


def _spelt(character: str) -> str:
    names = {"\0": "NUL", "\t": "TAB", "\n": "LF", "\r": "CR", "\x1b": "ESC", "\x7f": "DEL", "\ufeff": "BOM"}
    return names.get(character, f"U+{ord(character):04X}")
