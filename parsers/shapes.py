"""Shapes of text lines: a template or a pattern, compiled to linear-time regular expressions, and which lines they
match.

A template such as `{t} RX {mode} open {station}` means: a hole's value is the shortest text, maybe empty, that lets the
rest of the template match the rest of the line; a last hole takes what is left, be it nothing; a run of blanks matches
any run of blanks. `{t}` is as many words as the dialect's form of time has. Each template has a `quick` expression
beside its exact one: holes without the first character of what follows (any blank, where that is one). Where quick
matches, the exact one gives the same values (up to blanks around them), as no hole could have ended earlier; and as it
never has two ways to go on, the engine captures in a single pass."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from parsers.constants import IGNORE, KEYS
from parsers.time_forms import BLANK, WORD, Form
from shared.columns import rows_where

HOLES = ("t", "duration", *KEYS)
#: Largest product of the counts in a pattern's {n} and {n,m}: an expression is unrolled that many times, and each line
#: pays for it.
MOST_REPEATS = 1000


@dataclass(frozen=True)
class Shape:
    """One [[line]] that matches text."""

    exact: str  #: regular expression in Rust's syntax, whole line for a template
    quick: str | None  #: see above; None for a pattern
    words: tuple[str, ...]  #: texts that every matching line contains, the longest first
    holes: tuple[str, ...]  #: named groups that are wanted


def compile_template(template: str, form: Form, event: str) -> Shape:
    """The shape of a `text`. Raises ValueError with what is wrong with it."""
    parts = re.split(r"\{([^{}]*)\}", re.sub(r"[ \t]+", " ", template.strip(" \t")))
    texts, names = parts[::2], parts[1::2]
    _check_template(texts, names)
    exact, quick = _literal(texts[0], BLANK), _literal(texts[0], " ")
    holes = tuple(name for name in names if _is_wanted(name, event))
    for i, name in enumerate(names):
        slow, fast = _expressions(name, texts[i], texts[i + 1], form)
        group = f"?P<{name}>" if name in holes else "?:"
        exact += f"({group}{slow})" + _literal(texts[i + 1], BLANK)
        quick += f"({group}{fast})" + _literal(texts[i + 1], " ")
    if names and not texts[-1]:
        # What a line ends with need not be read where nobody wants it.
        quick = quick + "$" if names[-1] in holes else quick.removesuffix("(?:.*)")
        exact = _may_end_early(exact) if texts[-2].endswith(" ") else exact
    else:
        quick += "$"
    return Shape(f"(?s)^{exact}$", f"(?s)^{quick}", _words(texts), holes)


def _is_wanted(hole: str, event: str) -> bool:
    """Whether the value of a template's hole is of use; `_` and what is ignored are not, a stamp always is."""
    return hole == "t" or (hole != "_" and event != IGNORE)


def _may_end_early(exact: str) -> str:
    """An empty last value: the blanks before it went with the blanks at the end of the line."""
    at = exact.rindex(BLANK + "(")
    return f"{exact[:at]}(?:{exact[at:]})?"


def _words(texts: Sequence[str]) -> tuple[str, ...]:
    """The longest first."""
    words = set(" ".join(texts).split(" ")) - {""}
    return tuple(sorted(words, key=len, reverse=True))


def _check_template(texts: Sequence[str], names: Sequence[str]) -> None:
    """Raises ValueError with what is wrong with a template of these texts and the holes between them."""
    _check_holes([name for name in names if name != "_"])
    if any(not text for text in texts[1:-1]):
        raise ValueError(
            "two holes stand side by side, so where one ends can't be known; put the text between them that the"
            " line has"
        )
    if "{" in "".join(texts) or "}" in "".join(texts):
        raise ValueError(
            "a brace is open or empty; holes look like {station}, and a line that has braces itself needs a pattern"
        )
    if not names and not texts[0]:
        raise ValueError("the text is empty; write the line as the host writes it, with holes for what changes")


def _expressions(name: str, before: str, after: str, form: Form) -> tuple[str, str]:
    """What a hole between two texts takes, for the exact expression and for the quick one."""
    stop = r" \t" if after[:1] in ("", " ") else re.escape(after[0])  # what can't stand in a value
    if name == "t":
        # At least one character a word, or blanks could be shared out in two ways.
        return form.words.replace(WORD, r"[^ \t]+?"), form.words.replace(WORD, rf"[^ \t{stop}]+")
    if not after:
        return ".*", ".*"
    # An empty value between two blanks is the exact one's to judge: the two may be one run.
    least = "+" if before.endswith(" ") and after.startswith(" ") else "*"
    return ".*?", rf"[^{stop}]{least}"


def compile_pattern(pattern: str, event: str) -> Shape:
    """The shape of a `pattern`, which may match anywhere in the line. Raises ValueError with what is wrong with it."""
    names = [name for name in re.findall(r"\(\?P?<([^=!>]+)>", pattern) if not name.startswith("_")]
    _check_holes(names)
    _check_repeats(pattern)
    try:
        pl.Series([""]).str.contains(pattern)
    except pl.exceptions.ComputeError as e:
        reasons = [line.strip() for line in str(e).splitlines() if line.startswith("error:")]
        reason = reasons[0].removeprefix("error: ") if reasons else "it is no regular expression"
        raise ValueError(
            f"the pattern can't be used: {reason.rstrip('.')}; patterns are linear: without look-around and"
            " back-references"
        ) from e
    return Shape(pattern, None, (), tuple(name for name in names if _is_wanted(name, event)))


def _check_repeats(pattern: str) -> None:
    repeats = 1
    for low, high in re.findall(r"\{(\d+)(?:,(\d*))?\}", pattern):
        repeats *= max(1, int(low), int(high or 0))
    if repeats > MOST_REPEATS:
        raise ValueError(f"the counts in braces multiply to {repeats}, more than {MOST_REPEATS}; use + or * instead")


def _check_holes(names: list[str]) -> None:
    for name in names:
        if name not in HOLES:
            raise ValueError(f"'{name}' is no hole; holes are {', '.join(HOLES)} and _")
        if names.count(name) > 1:
            raise ValueError(f"the hole '{name}' stands twice; name what is not wanted _")
    if {"seconds", "duration"} <= set(names):
        raise ValueError("seconds and duration are the same thing; keep one of the two holes")


def _literal(text: str, blank: str) -> str:
    return blank.join(re.escape(word) for word in text.split(" "))


def matches(shape: Shape, lines: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Splits `lines` (columns row, text) into what the shape captured (columns row and its holes, String) and the lines
    left over, in no order.
    """
    left = []
    captured = [lines.get_column("row").clear().to_frame()]
    if shape.words:
        lines, others = _parted(lines, lines.get_column("text").str.contains(shape.words[0], literal=True))
        left.append(others)
    if shape.quick and len(lines):
        fitting, lines = _matched(shape, lines, shape.quick)
        captured.append(fitting)
        for word in shape.words[1:]:  # the exact one is slow, and few of these lines are its
            lines, others = _parted(lines, lines.get_column("text").str.contains(word, literal=True))
            left.append(others)
    if len(lines):
        fitting, lines = _matched(shape, lines, shape.exact)
        captured.append(fitting)
    return _joined(captured), _joined([*left, lines])


def _joined(frames: Sequence[pl.DataFrame]) -> pl.DataFrame:
    """Those that hold anything, one after another."""
    full = [frame for frame in frames if len(frame)]
    return pl.concat(full) if len(full) > 1 else full[0] if full else frames[0]


def _matched(shape: Shape, lines: pl.DataFrame, expression: str) -> tuple[pl.DataFrame, pl.DataFrame]:
    """What an expression captured, and the lines that it doesn't match."""
    first = shape.holes[0] if shape.holes else None
    if expression is shape.exact or first is None:  # it may capture slowly, or leave a hole out
        fitting, others = _parted(lines, lines.get_column("text").str.contains(expression))
        return _captured(shape, fitting, expression), others
    groups = _captured(shape, lines, expression)
    fits = groups.get_column(first).is_not_null()
    return rows_where(groups, fits), rows_where(lines, ~fits)


def _parted(lines: pl.DataFrame, fits: pl.Series) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The rows that fit and the others."""
    return rows_where(lines, fits), rows_where(lines, ~fits)


def _captured(shape: Shape, lines: pl.DataFrame, expression: str) -> pl.DataFrame:
    rows = lines.get_column("row")
    if not shape.holes:
        return rows.to_frame()
    groups = lines.get_column("text").str.extract_groups(expression).struct.unnest()
    return pl.DataFrame([rows, *(groups.get_column(name) for name in shape.holes)])
