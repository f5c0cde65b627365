"""Lines into tokens: words, values, marks and blanks, such that joined again they are the line."""

import re
from functools import lru_cache

STAMP = "\x01"  #: stands in a line where its stamp was
_PIECES = re.compile(
    r"\x01|[ \t]+|->|<-|=>|<=|>>|<<|\.\.\.|"
    r'"[^"]*"|'
    r"(?i:(?<![^ \t|:;,(\[])(?:time ?slot|slot|ts) [12](?![^ \t|:;,.)\]]))|"
    r"(?:[^ \t,;:=|()\[\]{}<>\"\x01]|(?<=[0-9])[,:](?=[0-9]))+|.",
    re.DOTALL,
)
#: a target of one word or two, in capitals or digits, behind the word that says so
TARGET = re.compile(r"(?<=\bto )(?:[A-Z0-9][A-Z0-9]+(?: [A-Z](?= [a-z]))?)(?= |$)")
_WHOLE = re.compile(TARGET.pattern + r"|\[[^\[\]\x01]+\]|" + _PIECES.pattern, re.DOTALL)
_END_MARKS = re.compile(r"^(.*[^.!?'])([.!?']+)$", re.DOTALL)
NOTHING = ("-", "--", "---", "?", "??", "???", "*")  #: what stands where a value is missing
BLANK, MARK, WORD, VALUE = "b", "m", "w", "v"


def tokens(text: str) -> list[str]:
    """The pieces of a line. What stands in quotes or square brackets is one token, blanks or not, unless a mode's name
    stands there and more.
    """
    out: list[str] = []
    for piece in _WHOLE.findall(text):
        out += _parts(piece)
    return out


def _parts(piece: str) -> list[str]:
    """A piece without its quotes, brackets, signs in front and marks behind, and these as pieces of their own."""
    if len(piece) < 2:
        return [piece]
    if piece[0] == "[" and piece[-1] == "]" and len(piece) > 2:
        inner = piece[1:-1]
        return ["[", *(tokens(inner) if _several(inner) else [inner]), "]"]
    if piece[0] == '"':
        return ['"', piece[1:-1], '"']
    if piece[0] in "@#~":
        return [piece[0], piece[1:]]
    found = _END_MARKS.match(piece) if piece[-1] in ".!?'" else None
    return [found[1], found[2]] if found else [piece]


@lru_cache(maxsize=10_000)
def _several(text: str) -> bool:
    """Whether several values stand in one pair of brackets: a mode's name, and more."""
    from parsers.adopt import trade

    words = text.split()
    return len(words) > 1 and trade.mode_of(text) is None and any(trade.mode_of(word) for word in words)


def kind(token: str) -> str:
    """What sort of token: blank, mark (punctuation), word (no digit in it) or value (with a digit, or empty)."""
    if token and not token.strip(" \t"):
        return BLANK
    if not token or token in NOTHING or any(char.isdigit() for char in token):
        return VALUE
    return WORD if any(char.isalpha() for char in token) or token == STAMP else MARK


def sameness(text: str) -> str:
    """Letters and digits of a word in lower case: `D-Star` and `DSTAR` are one spelling."""
    return "".join(char for char in text.lower() if char.isalnum())
