"""What the committee's report may say of people and of names: counts of small groups, and names that may be
somebody's."""

import re
import unicodedata
from collections.abc import Collection
from dataclasses import replace

from server.analytics.figure_types import Figures, Withheld
from server.report.somebody import MODE_NAMES, named
from shared.callsigns import ANY_CALL_SIGN
from shared.folding import without
from shared.identity import identity

FEW = 5  #: groups smaller than this are not counted out

#: A numeric id of a radio; talkgroups of so many digits are taken for one too, and what is longer than an id's bits
#: allow may be two in a row.
_LONG_ID = re.compile(r"(?<!:[0-9]{2}[.,])[0-9]{6,}")  # but for the microseconds of a stamp

#: Scripts that the report's own fonts can set; anything else in a label is spelt out as its code point.
_SETTABLE = (
    (0x20, 0x7E),
    (0xA0, 0x17F),
    (0x386, 0x3CE),
    (0x400, 0x45F),
    (0x1E80, 0x1E85),
    (0x1EF2, 0x1EF3),
    (0x2010, 0x2026),
    (0x20AC, 0x20AC),
)


def without_small_groups(figures: Figures) -> Figures:
    """The same figures with each count of stations under 5 told as `fewer than 5`, and the channel's count kept back
    where it would tell of such a group.
    """
    total = figures.channel.stations
    if not isinstance(total, int):
        return figures
    named = {mode: its.stations for mode, its in figures.modes.items()}  # None where no over names a station
    counts = {mode: count for mode, count in named.items() if isinstance(count, int)}
    return replace(
        figures,
        channel=replace(figures.channel, stations=_of_all(total, list(counts.values()))),
        modes={
            mode: replace(its, stations=Withheld.FEWER) if _is_small(counts.get(mode, 0)) else its
            for mode, its in figures.modes.items()
        },
    )


def _is_small(count: int) -> bool:
    return 0 < count < FEW


def _of_all(total: int, counts: list[int]) -> int | Withheld:
    """The channel's count. It is kept back where it and a mode's count together would tell of a smaller group: with 47
    stations on one mode and 49 in all, two never used it; with a mode hidden, the rest of the sum would tell how many
    it has at least.
    """
    shown = [count for count in counts if not _is_small(count)]
    hidden_told = len(shown) < len(counts) and total - sum(shown) > 1
    if _is_small(total):
        return Withheld.FEWER
    return Withheld.KEPT_BACK if hidden_told or any(_is_small(total - count) for count in shown) else total


def may_be_somebody(name: str, stations: Collection[str], own: str) -> bool:
    """Whether a name (of a link, a target) is a station's identity, or has the shape of a call sign or of a radio's id
    anywhere in it, however it is written; the repeater's own call sign is nobody's."""
    return identity(name) in stations or any(True for _ in named(name, stations, own))


def without_people(text: str, stations: Collection[str], own: str) -> str:
    """A text with `a station` for every word that is one, or has the shape of a call sign or of a radio's id in it."""
    return without(text, named(text, stations, own), "a station")


def masked(text: str) -> str:
    """A raw line with `<call sign>` and `<id>` for every word in it that has such a shape, whatever punctuation it
    stands between."""

    def mask(found: re.Match[str]) -> str:
        word = found[0].upper()  # hosts write both cases
        return "<call sign>" if ANY_CALL_SIGN.fullmatch(word) and word not in MODE_NAMES else found[0]

    return re.sub(r"[A-Za-z0-9]+", mask, _LONG_ID.sub("<id>", text))


def settable(text: str, limit: int = 40) -> str:
    """A label in characters that the report can set: others are spelt as code points, a longer label is cut short."""
    text = unicodedata.normalize("NFC", text)
    known = "".join(
        c if any(low <= ord(c) <= high for low, high in _SETTABLE) else f"[U+{ord(c):04X}]" for c in text[:limit]
    )
    return known + ("…" if len(text) > limit else "")
