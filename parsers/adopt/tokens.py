"""Lines into tokens: words, values, marks and blanks, such that joined again they are the line."""

import re

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


def tokens(text: str, separator: str | None = None, whole_brackets: bool = False) -> list[str]:
    """The pieces of a line. With a `separator` the line is a row of cells, each a token, maybe empty, with the separators between; with
    `whole_brackets` what stands in brackets is one token, blanks or not."""
    if separator is not None:
        cells = text.split(separator)
        return [piece for cell in cells for piece in (cell, separator)][:-1]
    out: list[str] = []
    for piece in (_WHOLE if whole_brackets else _PIECES).findall(text):
        if whole_brackets and len(piece) > 2 and piece[0] == "[" and piece[-1] == "]":
            out += ["[", piece[1:-1], "]"]
        elif len(piece) > 1 and piece[0] == '"':
            out += ['"', piece[1:-1], '"']
        elif len(piece) > 1 and piece[0] in "@#~":
            out += [piece[0], piece[1:]]
        elif len(piece) > 1 and piece[-1] in ".!?'" and (found := _END_MARKS.match(piece)):
            out += [found[1], found[2]]
        else:
            out.append(piece)
    return out


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
