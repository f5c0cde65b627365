"""The parts of stamps as numbers: year, month, hour and so on, a column each.

Most logs print every stamp in columns, so the groups of the first text are looked up in all texts of its length at
once, as a matrix of bytes; only the texts that don't fit take the slower road through the expression."""

import re
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import polars as pl

from parsers.time_forms import Form
from parsers.zonenames import code_of
from shared.zones import SECOND

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Parts = tuple[dict[str, Ints], Bools]  #: by letter the numbers of n stamps, and which texts are stamps
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
LONG_MONTHS = ("january", "february", "march", "april", "may", "june", "july",
               "august", "september", "october", "november", "december")  # fmt: skip
MONTH_NUMBER = {name: i % 12 + 1 for i, name in enumerate((*MONTHS, *LONG_MONTHS))}


def parts_in_columns(texts: pl.Series, first: str, length: int, form: Form) -> Parts | None:
    """The parts of texts of one length that are laid out like the first one; None where the first isn't a stamp."""
    match = re.fullmatch(form.expression, first)
    if not match or not first.isascii() or first.startswith("-"):
        return None
    octets = np.frombuffer(texts.str.join("").cast(pl.Binary)[0], dtype=np.uint8).reshape(-1, length)
    places = np.ascontiguousarray(octets.T)  # (length, n): a place in the text is one run of memory
    fits = np.ones(len(octets), dtype=np.bool_)
    fixed = set(range(length))
    parts: dict[str, Ints] = {}
    for name, text in match.groupdict().items():
        if text is None:
            continue
        if name in WORDED:  # the same text in every row, or the row takes the other road
            parts[name] = np.full(len(octets), WORDED[name](text), dtype=np.int64)
            continue
        start, end = match.span(name)
        fixed -= set(range(start, end))
        letter, numbers, right = _short_months(places[start:end]) if name == "b" else _digits(name, places[start:end])
        parts[letter] = numbers
        fits &= right
    for i in fixed:
        fits &= places[i] == ord(first[i])
    return parts, fits


def _short_months(letters: npt.NDArray[np.uint8]) -> tuple[str, Ints, Bools]:
    """The months that three letters (3, n) name; longer names take the other road."""
    if len(letters) != 3:
        return "m", np.zeros(letters.shape[1], dtype=np.int64), np.zeros(letters.shape[1], dtype=np.bool_)
    code = sum((octets | 0x20).astype(np.int64) << shift for octets, shift in zip(letters, (16, 8, 0), strict=True))
    months = np.zeros(letters.shape[1], dtype=np.int64)
    for number, month in enumerate(MONTHS, start=1):
        months[code == int.from_bytes(month.encode(), "big")] = number
    return "m", months, months > 0


def _digits(name: str, digits: npt.NDArray[np.uint8]) -> tuple[str, Ints, Bools]:
    """The numbers that digits (width, n) make; of a fraction, microseconds."""
    width = len(digits)
    shown = min(width, 6) if name == "f" else width
    value = np.zeros(digits.shape[1], dtype=np.int32 if shown < 10 else np.int64)
    right = np.ones(digits.shape[1], dtype=np.bool_)
    for i, octets in enumerate(digits):
        digit = octets - np.uint8(48)  # wraps round below 0
        right &= digit <= 9
        if i < shown:
            value = value * 10 + digit
    return name, value.astype(np.int64) * (10 ** (6 - shown) if name == "f" else 1), right


def parts_by_expression(texts: pl.Series, form: Form) -> Parts:
    """The same by the expression itself."""
    whole = "^(?:" + form.expression + ")$"
    groups = texts.alias("text").to_frame().select(pl.col("text").str.extract_groups(whole)).unnest("text")
    # A group that every stamp must have tells whether the text is one.
    must = next(name for name in ("M", "E") if name in groups.columns)
    parts: dict[str, Ints] = {}
    for column in groups:
        if not column.is_not_null().any():
            continue
        parts["m" if column.name == "b" else column.name] = NUMBERS.get(column.name, _whole)(column)
        if column.name == "E":
            parts["minus"] = _flags(column.str.starts_with("-"))
    return parts, groups[must].is_not_null().to_numpy()


def _whole(column: pl.Series) -> Ints:
    return column.cast(pl.Int64, strict=False).fill_null(0).to_numpy()


def _fraction(column: pl.Series) -> Ints:
    return _whole(column.str.slice(0, 6).str.pad_end(6, "0"))


def _flags(column: pl.Series) -> Ints:
    return column.fill_null(False).cast(pl.Int64).to_numpy()


def _months(column: pl.Series) -> Ints:
    months = column.str.to_lowercase().replace_strict(MONTH_NUMBER, default=0, return_dtype=pl.Int64)
    return months.fill_null(0).to_numpy()


def _zone_codes(column: pl.Series) -> Ints:
    codes = {text.upper(): code_of(text) for text in column.unique().drop_nulls()}
    coded = column.str.to_uppercase().replace_strict(codes, default=0, return_dtype=pl.Int64)
    return coded.fill_null(0).to_numpy()


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


#: Parts that are no number, and what stands for them: in one text, and in a column of them.
WORDED: dict[str, Callable[[str], int]] = {"o": _offset_us, "p": lambda text: int(text.lower() == "p"), "Z": code_of}
NUMBERS: dict[str, Callable[[pl.Series], Ints]] = {
    "o": _offsets,
    "b": _months,
    "Z": _zone_codes,
    "p": lambda column: _flags(column.str.to_lowercase() == "p"),
    "f": _fraction,
}
