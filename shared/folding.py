"""Text as an eye reads it, for whoever searches it for a call sign or an id: capital Latin letters and digits, without
marks and without characters that are not seen. Each character keeps its place in the text it came from.

What looks like what: common practice, chosen by eye from Latin, Greek and Cyrillic letters; no source.
"""

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

_SMALL = dict(
    zip("ανρυωγηιτκοχ" + "асеорхуіјѕһԁԛԝѵьпгтмквнз", "avpuwynitkox" + "aceopxyijshdqwvbnrtmkbh3", strict=True)
)
_LARGE = dict(zip("ΑΒΕΖΗΙΚΜΝΟΡΤΥΧ" + "АВСЕНІЈКМОРЅТХУԚԜЗЬ", "ABEZHIKMNOPTYX" + "ABCEHIJKMOPSTXYQW3B", strict=True))
_LATIN = dict(zip("ØøĐđĦħŁłŦŧı∅⌀", "00DDHHLLTTI00", strict=True))  # a crossed O is how a zero is written by hand
_LOOKS = {**_SMALL, **_LARGE, **_LATIN}
_HYPHENS = "\u2010\u2011\u2012\u2013\u2014\u2212"


@dataclass(frozen=True)
class Folded:
    """A folded text, and for each of its characters the place in the original."""

    text: str
    places: tuple[int, ...]
    original: str

    def words(self, start: int, end: int) -> tuple[int, int]:
        """The stretch of the original that a stretch of the folded text stands in, to the ends of its words."""
        first, last = self.places[start], self.places[end - 1] + 1
        while first > 0 and _goes_on(self.original, first - 1, -1):
            first -= 1
        while last < len(self.original) and _goes_on(self.original, last, 1):
            last += 1
        return first, last


def folded(text: str) -> Folded:
    """A text as an eye reads it."""
    found = [(seen, at) for at, character in enumerate(text) for seen in _seen(character)]
    return Folded("".join(seen for seen, _ in found), tuple(at for _, at in found), text)


def unseen(character: str) -> bool:
    """Whether a character only steers how others are set: a soft hyphen, a space without width, a mark."""
    category = unicodedata.category(character)
    return category == "Cf" or category[0] == "M"


def without(text: str, stretches: Iterator[tuple[int, int]], instead: str) -> str:
    """A text with other words in place of stretches of it; those that touch are one."""
    out, done = [], 0
    for start, end in sorted(stretches):
        if start >= done:
            out += [text[done:start], instead]
        done = max(done, end)
    return "".join([*out, text[done:]])


def _seen(character: str) -> Iterator[str]:
    for part in unicodedata.normalize("NFKD", _LOOKS.get(character, character)):
        if unseen(part):
            continue
        digit = unicodedata.decimal(part, None)
        if digit is not None:
            yield str(digit)
        elif part in _HYPHENS:
            yield "-"
        elif part.isspace():
            yield " "
        else:
            yield from _LOOKS.get(part, part).upper()


def _goes_on(text: str, at: int, step: int) -> bool:
    """Whether the word goes on with a character: a letter, or a mark between letters."""
    if text[at].isalnum() or unseen(text[at]) or text[at] in "∅⌀":
        return True
    beyond = at + step
    return text[at] in "-/_.'’" and 0 <= beyond < len(text) and text[beyond].isalnum()


#: What may stand once between the characters of a call sign or an id that is written apart.
APART = r"[ .,\-/_]?"


def spelt_apart(name: str) -> str:
    """A pattern of a name in a folded text, also where it is written apart; short names only as they are."""
    seen = folded(name).text
    return APART.join(map(re.escape, seen)) if len(seen) >= 6 else re.escape(seen)
