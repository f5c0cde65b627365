"""Where in a text somebody may be named: a call sign's shape or a radio's id, however it is written, or a station."""

import re
from collections.abc import Collection, Iterator

from shared.callsigns import ANY_CALL_SIGN, SERIES
from shared.events import MODE_LABELS
from shared.folding import Folded, folded
from shared.identity import identity

MODE_NAMES = {label.upper() for label in MODE_LABELS.values()}  #: C4FM has the form of a call sign

_UNIT = "(?:MM|CM|KM|M|IN|FT|V|W|KW|A|AH|KG|DB|DBM|DBI|HZ|KHZ|MHZ|GHZ)"
_DAY, _MONTH = "(?:0?[1-9]|[12][0-9]|3[01])", "(?:0?[1-9]|1[0-2])"
_TIME = r"(?:[T ][0-2][0-9]:?[0-5][0-9](?::?[0-5][0-9])?Z?)?"
#: What has digits and is nobody: dates, frequencies, sizes, cables. No date of this century in one piece fits into the
#: 24 bits of a radio's id.
_NOBODY = re.compile(
    rf"(?<![A-Z0-9])(?:20[0-9]{{2}}([.-]?){_MONTH}\1{_DAY}{_TIME}|19[0-9]{{2}}-{_MONTH}-{_DAY}{_TIME}"
    rf"|{_DAY}([.-]){_MONTH}\2(?:20)?[0-9]{{2}}"
    r"|[0-9]{2,4}\.[0-9]{1,6} ?[KMG]HZ|[0-9]{3}\.[0-9]{3}(?! ?[.\-]?[0-9])"
    rf"|[0-9]{{1,3}}X[0-9]{{1,4}} ?{_UNIT}"
    r"|RG-?(?:6|8|11|58|59|142|174|213|214|223|316)(?:[ACUX]|/U|[ACUX]/U)?|CAT ?[5-8][AE]?)(?![A-Z0-9])"
)
_DIGITS = re.compile(r"[0-9]+(?:[ .,\-][0-9]+)*")
_LEAST = 6  #: digits of an id; talkgroups of so many are taken for one too
#: Words that come after such as `M6` or `RX2`: these and a word before them are no call sign that is written apart.
_PLAIN = re.compile(
    "A|AM|AMP|AN|AND|ANT|ARE|AS|AT|BE|BOX|BUT|BY|CAN|CAP|DID|DO|DUE|END|FAN|FOR|GO|GOT|HAD|HAS|HE|HOT|IF|IN|IS|IT|ITS"
    "|LED|MAY|NEW|NO|NOR|NOT|NOW|NUT|OF|OFF|OK|OLD|ON|ONE|OR|OUR|OUT|PER|PM|PSU|PUT|RAN|RUN|SET|SO|THE|TO|TOO|TWO|UP"
    "|US|UTC|VIA|WAS|WE|WET|WHO|YET"
)
_GEAR = frozenset({"RX", "TX", "TS", "PA", "RG", "CH", "SW"})
_APART = re.compile(rf"(?<![A-Z0-9])({SERIES})([0-9])[ .\-/_]([A-Z]{{1,4}})(?![A-Z0-9])", re.ASCII)
_BEFORE_DIGIT = re.compile(rf"(?<![A-Z0-9])(?:{SERIES})[ .\-/_][0-9][A-Z]{{2,4}}(?![A-Z0-9])", re.ASCII)


def named(text: str, stations: Collection[str], own: str) -> Iterator[tuple[int, int]]:
    """The stretches of a text, whole words, that may name somebody. `stations` are identities; `own` is the repeater's
    call sign, which is nobody's."""
    seen = folded(text)
    for word in re.finditer(r"[^\W_]+(?:[-/][^\W_]+)*", text):
        if identity(word[0]) in stations and identity(word[0]) != own.upper():
            yield word.span()
    bare = _without_nobody(seen, own)
    for found in _shapes(seen, bare, stations):
        yield seen.words(*found)


def _without_nobody(seen: Folded, own: str) -> str:
    """The folded text with blots, of the same length, for what has such a shape and is nobody."""
    known = "|".join(map(re.escape, sorted({folded(own).text, *MODE_NAMES} - {""}, key=len, reverse=True)))
    bare = re.sub(rf"(?<![A-Z0-9])(?:{known})(?![A-Z0-9])", _blot, seen.text)
    areas = {found.end() - 1 for found in re.finditer(r"(?<![^\W\d_])m[²³]", seen.original)}
    bare = "".join("\0" if at in areas else c for c, at in zip(bare, seen.places, strict=True))
    return _NOBODY.sub(_blot, bare)


def _blot(found: re.Match[str]) -> str:
    return "\0" * len(found[0])


def _shapes(seen: Folded, bare: str, stations: Collection[str]) -> Iterator[tuple[int, int]]:
    for pattern in (ANY_CALL_SIGN, re.compile(r"[A-Z0-9]+")):
        for found in pattern.finditer(bare):
            if pattern is ANY_CALL_SIGN or found[0] in stations:
                yield found.span()
    for found in _DIGITS.finditer(bare):
        if _is_id(re.findall("[0-9]+", found[0])):
            yield found.span()
    for found in _APART.finditer(bare):
        as_written = "".join(seen.original[seen.places[at]] for at in range(*found.span()))
        if _is_call_sign_apart(found, as_written):
            yield found.span()
    for found in _BEFORE_DIGIT.finditer(bare):
        if all(not seen.original[seen.places[at]].islower() for at in range(*found.span())):  # not: in 2nd
            yield found.span()


def _is_id(groups: list[str]) -> bool:
    """One piece of enough digits, or several; `2 99950` is a slot and a talkgroup."""
    total = sum(map(len, groups))
    return max(map(len, groups)) >= _LEAST or total > _LEAST or (total == _LEAST and min(map(len, groups)) > 1)


def _is_call_sign_apart(found: re.Match[str], as_written: str) -> bool:
    head, end = found[1], found[3]
    if head in _GEAR or end in MODE_NAMES or re.fullmatch(_UNIT, end):
        return False
    return as_written == as_written.upper() or (len(end) in (2, 3) and not _PLAIN.fullmatch(end))
