"""Stamps: texts into instants or local wall-clock times, a column at a time.

Each form of time is one regular expression whose groups are named after strptime's letters, with o for the offset and E
for a count since 1970. Most logs print every stamp in columns, so the groups of the first text are looked up in all
texts of its length at once, as a matrix of bytes; only the texts that don't fit take the slower road through the
expression."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import polars as pl

from parsers.constants import HIGHEST_US, LOWEST_US
from parsers.zonenames import by_name, code_of, may_have
from shared.zones import DAY, SECOND

Ints = npt.NDArray[np.int64]
#: what a stamp turned out to be; a yearless one is put in LEAP_YEAR, of a dayless one the microseconds of its day are
#: given
NOT_READ, INSTANT, WALL, YEARLESS, DAYLESS = 0, 1, 2, 3, 4
UTC = ZoneInfo("UTC")
LEAP_YEAR = 2000
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
LONG_MONTHS = ("january", "february", "march", "april", "may", "june", "july",
               "august", "september", "october", "november", "december")  # fmt: skip
MONTH_NUMBER = {name: i % 12 + 1 for i, name in enumerate((*MONTHS, *LONG_MONTHS))}

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
    spelt = re.sub(r"%([TRFD])", lambda found: SHORTHANDS[found[1]], time)
    out, seen = [], set()
    for piece in re.findall(r"%[-_]?.|%$|[ \t]+|[^% \t]+", spelt):
        letter = piece[-1]
        if not piece.startswith("%"):
            out.append(BLANK if piece.isspace() else re.escape(piece))
            continue
        if letter not in LETTERS or piece == "%":
            raise ValueError(
                f"'{piece}' in the time pattern '{time}' is not known; known letters are {' '.join(LETTERS)}"
            )
        kind = {"h": "b", "B": "b", "e": "d"}.get(letter, letter)
        if kind in seen and kind in "YymbdHIMSfpzZ":
            raise ValueError(f"'{piece}' stands twice in the time pattern '{time}'")
        seen.add(kind)
        out.append(LETTERS[letter])
    dayless = not seen & set("Yymbd")
    if not dayless and not ("d" in seen and seen & {"m", "b"}):
        raise ValueError(f"the time pattern '{time}' has only a part of the date; add %m and %d, or leave the date out")
    if dayless and "z" in seen:
        raise ValueError(
            f"the time pattern '{time}' has an offset and no date; take the offset out and name the zone in [dialect]"
        )
    if not (("H" in seen or {"I", "p"} <= seen) and "M" in seen):
        raise ValueError(f"the time pattern '{time}' has no hour and minute; add %H and %M")
    words = BLANK.join([WORD] * (1 + sum(piece == BLANK for piece in out)))
    return Form("".join(out), words=words, dayless=dayless)


def read_stamps(texts: pl.Series, form: Form, zone: ZoneInfo = UTC) -> tuple[npt.NDArray[np.uint8], Ints]:
    """Kinds (n,) and microseconds (n,): UTC of an INSTANT, of the wall clock for WALL, in LEAP_YEAR for YEARLESS, of
    the day for DAYLESS. A zone's name must be UTC's, or one that `zone` has at that instant.

    `texts` (n,) may hold nulls. Fractions finer than a microsecond are cut off. A second 60 is the instant after :59
    (RFC 3339 section 5.7 allows leap seconds).
    """
    n = len(texts)
    kinds, us = np.zeros(n, dtype=np.uint8), np.zeros(n, dtype=np.int64)
    filled = texts.is_not_null()
    first = texts.drop_nulls().head(1)
    if not len(first):
        return kinds, us
    left = filled.to_numpy().copy()
    length = len(first[0].encode())
    same = np.flatnonzero((texts.str.len_bytes() == length).fill_null(False).to_numpy())
    if 0 < length <= 48 and (columns := _in_columns(texts.gather(same), first[0], length, form)) is not None:
        parts, fits = columns
        kinds[same], us[same] = _instants(parts, fits, form, zone)
        left[same] &= ~fits
    rest = np.flatnonzero(left)
    if len(rest):
        kinds[rest], us[rest] = _instants(*_by_expression(texts.gather(rest), form), form, zone)
    return kinds, us


def _in_columns(
    texts: pl.Series, first: str, length: int, form: Form
) -> tuple[dict[str, Ints], npt.NDArray[np.bool_]] | None:
    """The parts of texts of one length that are laid out like the first one, and which of them are; None where the
    first isn't a stamp.
    """
    found = re.fullmatch(form.expression, first)
    if not found or not first.isascii() or first.startswith("-"):
        return None
    octets = np.frombuffer(texts.str.join("").cast(pl.Binary)[0], dtype=np.uint8).reshape(-1, length)
    places = np.ascontiguousarray(octets.T)  # (length, n): a place in the text is one run of memory
    fits = np.ones(len(octets), dtype=np.bool_)
    fixed = set(range(length))
    parts: dict[str, Ints] = {}
    for name, text in found.groupdict().items():
        if text is None:
            continue
        start, end = found.span(name)
        if name in WORDED:
            number = WORDED[name](text)
            parts[name] = np.full(len(octets), number, dtype=np.int64)
            continue  # the same text in every row, or the row takes the other road
        fixed -= set(range(start, end))
        if name == "b":
            if end - start != 3:
                return None
            code = sum((places[start + i] | 0x20).astype(np.int64) << shift for i, shift in enumerate((16, 8, 0)))
            parts["m"] = np.zeros(len(octets), dtype=np.int64)
            for number, month in enumerate(MONTHS, start=1):
                parts["m"][code == int.from_bytes(month.encode(), "big")] = number
            fits &= parts["m"] > 0
            continue
        shown = min(end - start, 6) if name == "f" else end - start
        value = np.zeros(len(octets), dtype=np.int32 if shown < 10 else np.int64)
        for i in range(start, end):
            digit = places[i] - np.uint8(48)  # wraps round below 0
            fits &= digit <= 9
            if i < start + shown:
                value = value * 10 + digit
        parts[name] = value.astype(np.int64) * 10 ** (6 - shown) if name == "f" else value.astype(np.int64)
    for i in fixed:
        fits &= places[i] == ord(first[i])
    return parts, fits


def _by_expression(texts: pl.Series, form: Form) -> tuple[dict[str, Ints], npt.NDArray[np.bool_]]:
    """The same by the expression itself: parts and which texts match."""
    whole = "^(?:" + form.expression + ")$"
    groups = texts.alias("text").to_frame().select(pl.col("text").str.extract_groups(whole)).unnest("text")
    # A group that every stamp must have tells whether the text is one.
    must = next(name for name in ("M", "E") if name in groups.columns)
    fits = groups[must].is_not_null().to_numpy()
    parts: dict[str, Ints] = {}
    for name in groups.columns:
        column = groups[name]
        if not column.is_not_null().any():
            continue
        if name == "o":
            parts[name] = _offsets(column)
        elif name == "b":
            month = column.str.to_lowercase().replace_strict(MONTH_NUMBER, default=0, return_dtype=pl.Int64)
            parts["m"] = month.fill_null(0).to_numpy()
        elif name == "Z":
            codes = {text.upper(): code_of(text) for text in column.unique().drop_nulls()}
            coded = column.str.to_uppercase().replace_strict(codes, default=0, return_dtype=pl.Int64)
            parts[name] = coded.fill_null(0).to_numpy()
        elif name == "p":
            parts[name] = column.str.to_lowercase().eq("p").fill_null(False).cast(pl.Int64).to_numpy()
        elif name == "f":
            parts[name] = (
                column.str.slice(0, 6).str.pad_end(6, "0").cast(pl.Int64, strict=False).fill_null(0).to_numpy()
            )
        else:
            parts[name] = column.cast(pl.Int64, strict=False).fill_null(0).to_numpy()
            if name == "E":
                parts["minus"] = column.str.starts_with("-").fill_null(False).cast(pl.Int64).to_numpy()
    return parts, fits


NO_OFFSET = np.iinfo(np.int64).min
BAD_OFFSET = NO_OFFSET + 1


def _offsets(column: pl.Series) -> Ints:
    """Offsets east of UTC in microseconds; NO_OFFSET where there is none."""
    known = {text: _offset_us(text) for text in column.unique().drop_nulls()}
    return column.replace_strict(known, default=NO_OFFSET, return_dtype=pl.Int64).fill_null(NO_OFFSET).to_numpy()


def _offset_us(text: str) -> int:
    if text in "Zz":
        return 0
    digits = text[1:].replace(":", "").ljust(4, "0")
    hours, minutes = int(digits[:2]), int(digits[2:])
    if hours > 23 or minutes > 59:
        return BAD_OFFSET
    return (hours * 60 + minutes) * 60 * SECOND * (-1 if text[0] == "-" else 1)


#: Parts that are no number, and what stands for them.
WORDED: dict[str, Callable[[str], int]] = {"o": _offset_us, "p": lambda text: int(text.lower() == "p"), "Z": code_of}


def _instants(
    parts: dict[str, Ints], fits: npt.NDArray[np.bool_], form: Form, zone: ZoneInfo
) -> tuple[npt.NDArray[np.uint8], Ints]:
    """Kinds and microseconds of the parts of n stamps, of which only those that fit are to be read."""
    n = len(fits)
    none = np.zeros(n, dtype=np.int64)
    if not fits.any():
        return none.astype(np.uint8), none
    fraction = parts.get("f", none)
    if "E" in parts:
        return _epochs(parts, fits, fraction, form.unit_us)
    year, yearless = parts.get("Y"), False
    if year is None and "y" in parts:
        year = parts["y"] + np.where(parts["y"] >= 69, 1900, 2000)  # POSIX: 69-99 are of the last century
    if year is None:
        year, yearless = np.full(n, LEAP_YEAR, dtype=np.int64), True
    one = np.ones(n, dtype=np.int64)
    month, day, hour = parts.get("m", one), parts.get("d", one), parts.get("H")
    right = fits.copy()
    if hour is None:
        right &= (parts["I"] >= 1) & (parts["I"] <= 12)
        hour = parts["I"] % 12 + 12 * parts["p"]
    minute, second = parts["M"], parts.get("S", none)
    right &= (year >= 1) & (month >= 1) & (month <= 12) & (day >= 1) & (hour <= 23) & (minute <= 59) & (second <= 60)
    month = np.where(right, month, 1)
    right &= day <= days_in_month(year, month)
    us = days_from_civil(year, month, day) * 86_400 + hour * 3600 + minute * 60 + second
    us = us * SECOND + fraction
    offset = parts.get("o", np.full(n, NO_OFFSET, dtype=np.int64))
    right &= offset != BAD_OFFSET
    fixed = (offset != NO_OFFSET) & (offset != BAD_OFFSET)
    us = us - np.where(fixed, offset, 0)
    kind = np.where(fixed & (not yearless), INSTANT, YEARLESS if yearless else WALL)
    if "Z" in parts:
        named = ~fixed & right
        right[named], us[named], kind[named] = _in_named_zone(parts["Z"][named], us[named], kind[named], zone)
    if form.dayless:
        return np.where(right, DAYLESS, NOT_READ).astype(np.uint8), np.where(right, us % DAY, 0)
    right &= (us >= LOWEST_US) & (us < HIGHEST_US)
    return np.where(right, kind, NOT_READ).astype(np.uint8), np.where(right, us, 0)


def _in_named_zone(codes: Ints, us: Ints, kind: Ints, zone: ZoneInfo) -> tuple[npt.NDArray[np.bool_], Ints, Ints]:
    """Whether the names of stamps' zones can be, and what the stamps are then."""
    if (kind == YEARLESS).all():
        return may_have(codes, zone), us, kind
    us, told = by_name(codes, us, zone)
    return told, us, np.full(len(us), INSTANT)


def zone_names(texts: pl.Series, form: Form) -> list[str]:
    """The names of zones in texts that are stamps of this form but for that, one a text."""
    if "(?P<Z>" not in form.expression:
        return []
    return (
        texts.str.extract_groups("^(?:" + form.expression + ")$")
        .struct.field("Z")
        .drop_nulls()
        .str.to_uppercase()
        .to_list()
    )


def _epochs(
    parts: dict[str, Ints], fits: npt.NDArray[np.bool_], fraction: Ints, unit: int
) -> tuple[npt.NDArray[np.uint8], Ints]:
    count, part = parts["E"], fraction * unit // SECOND
    right = fits & (count >= LOWEST_US // unit) & (count < HIGHEST_US // unit)
    minus = parts.get("minus", np.zeros(len(count), dtype=np.int64)) == 1
    us = np.where(right, count, 0) * unit + np.where(minus, -part, part)
    return np.where(right, INSTANT, NOT_READ).astype(np.uint8), np.where(right, us, 0)


def days_from_civil(year: Ints, month: Ints, day: Ints) -> Ints:
    """Days since 1970-01-01 in the proleptic Gregorian calendar; counted in years that begin in March, so that leap
    days come last.
    """
    y = year - (month <= 2)
    of_year = (153 * ((month + 9) % 12) + 2) // 5 + day - 1
    return 365 * y + y // 4 - y // 100 + y // 400 + of_year - 719_468


def days_in_month(year: Ints, month: Ints) -> Ints:
    """28 to 31."""
    leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    lengths = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], dtype=np.int64)
    return np.asarray(lengths[month - 1] + (leap & (month == 2)))
