"""Forms of time: the expression of a stamp, whose groups are named after strptime's letters, with o for the offset and
E for a count since 1970.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from shared.zones import SECOND

BLANK, WORD = "[ \\t]+", "WORD"
OFFSET = r"(?P<o>[Zz]|[+-][0-9]{2}(?::?[0-9]{2})?)"
ISO = (
    r"(?P<Y>[0-9]{4})-?(?P<m>[0-9]{2})-?(?P<d>[0-9]{2})(?:[Tt]|[ \t]+)(?P<H>[0-9]{2}):?(?P<M>[0-9]{2})"
    r"(?::?(?P<S>[0-9]{2})(?:[.,](?P<f>[0-9]+))?)? ?" + OFFSET + "?"
)
#: RFC 3339 section 5.6, which an activity line asks for; section 5.6's note allows the blank
RFC3339 = (
    r"(?P<Y>[0-9]{4})-(?P<m>[0-9]{2})-(?P<d>[0-9]{2})[Tt ](?P<H>[0-9]{2}):(?P<M>[0-9]{2}):(?P<S>[0-9]{2})"
    r"(?:\.(?P<f>[0-9]+))?(?P<o>[Zz]|[+-][0-9]{2}:[0-9]{2})"
)
SYSLOG = r"(?P<b>[A-Za-z]{3}) +(?P<d>[0-9]{1,2}) (?P<H>[0-9]{2}):(?P<M>[0-9]{2}):(?P<S>[0-9]{2})(?:[.,](?P<f>[0-9]+))?"
EPOCH = r"(?P<E>-?[0-9]{1,16})(?:[.,](?P<f>[0-9]+))?"

#: strptime's letters, as Python's and C's manuals have them
LETTERS = {
    "Y": r"(?P<Y>[0-9]{4})", "y": r"(?P<y>[0-9]{2})", "m": r"(?P<m>[0-9]{1,2})", "d": r" ?(?P<d>[0-9]{1,2})",
    "e": r" ?(?P<d>[0-9]{1,2})", "H": r" ?(?P<H>[0-9]{1,2})", "I": r" ?(?P<I>[0-9]{1,2})", "M": r"(?P<M>[0-9]{1,2})",
    "S": r"(?P<S>[0-9]{1,2})", "f": r"(?P<f>[0-9]{1,9})", "p": r"(?P<p>[AaPp])\.?[Mm]\.?", "b": r"(?P<b>[A-Za-z]+)\.?",
    "h": r"(?P<b>[A-Za-z]+)\.?", "B": r"(?P<b>[A-Za-z]+)\.?", "a": r"[A-Za-z]+\.?", "A": r"[A-Za-z]+\.?",
    "z": OFFSET, "Z": r"(?P<Z>[A-Za-z]{1,6})", "%": "%", "n": BLANK, "t": BLANK,
}  # fmt: skip
SHORTHANDS = {"T": "%H:%M:%S", "R": "%H:%M", "F": "%Y-%m-%d", "D": "%m/%d/%y"}


@dataclass(frozen=True)
class Form:
    """One form of stamp: its expression, microseconds to one unit of its epoch count, and a looser expression, made of
    words without blanks, by which `{t}` finds the stamp in a line (any part of it may be cut short by the text that
    follows the hole).
    """

    expression: str
    unit_us: int = SECOND
    words: str = WORD
    dayless: bool = False  #: it tells the time of day only


NAMED = {
    "iso": Form(ISO, words="[0-9-]{8,10}(?:[Tt]|[ \\t]+)" + WORD),
    "syslog": Form(SYSLOG, words=BLANK.join([WORD] * 3)),
    "epoch": Form(EPOCH),
    "epoch-ms": Form(EPOCH, 1000),
    "epoch-us": Form(EPOCH, 1),  # the journal's; a dialect can't name it
}
#: A syslog header's stamp: RFC 3164's, or RFC 5424's
RFC3339_FORM = Form(RFC3339)


#: Letters that mean the same part of a stamp.
SAME_PART = {"h": "b", "B": "b", "e": "d"}
ONCE = frozenset("YymbdHIMSfpzZ")  # parts that a stamp has no two of
DATE = frozenset("Yymbd")


@lru_cache
def time_form(time: str) -> Form:
    """The form that a dialect's `time` names. Raises ValueError with what is wrong with it."""
    if time in NAMED and time != "epoch-us":
        return NAMED[time]
    if "%" not in time:
        raise ValueError(
            f"'{time}' is no form of time; take iso, epoch, epoch-ms, syslog or a strptime pattern such as %d.%m.%Y"
            " %H:%M:%S"
        )
    expressions, letters = _expressions(time)
    if fault := _fault(letters):
        raise ValueError(f"the time pattern '{time}' {fault}")
    words = BLANK.join([WORD] * (1 + expressions.count(BLANK)))
    return Form("".join(expressions), words=words, dayless=not letters & DATE)


def _expressions(time: str) -> tuple[list[str], set[str]]:
    """The expressions of a strptime pattern, one after another, and the parts of a stamp that it has."""
    letters: set[str] = set()
    expressions = []
    for part in re.findall(r"%[-_]?.|%$|[ \t]+|[^% \t]+", re.sub(r"%([TRFD])", lambda at: SHORTHANDS[at[1]], time)):
        letter = part[-1]
        if not part.startswith("%"):
            expressions.append(BLANK if part.isspace() else re.escape(part))
            continue
        if letter not in LETTERS or part == "%":
            raise ValueError(
                f"'{part}' in the time pattern '{time}' is not known; known letters are {' '.join(LETTERS)}"
            )
        same = SAME_PART.get(letter, letter)
        if same in letters & ONCE:
            raise ValueError(f"'{part}' stands twice in the time pattern '{time}'")
        letters.add(same)
        expressions.append(LETTERS[letter])
    return expressions, letters


def _fault(letters: set[str]) -> str:
    """What a stamp of these parts lacks, or has too much; empty where nothing is wrong with it."""
    date = letters & DATE
    if date and not ("d" in date and date & {"m", "b"}):
        return "has only a part of the date; add %m and %d, or leave the date out"
    if not date and "z" in letters:
        return "has an offset and no date; take the offset out and name the zone in [dialect]"
    if "M" not in letters or not ("H" in letters or {"I", "p"} <= letters):
        return "has no hour and minute; add %H and %M"
    return ""
