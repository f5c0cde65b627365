"""Stamps: texts into instants or local wall-clock times, a column at a time."""

from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import polars as pl

from parsers.constants import HIGHEST_US, LOWEST_US
from parsers.stamp_parts import BAD_OFFSET, NO_OFFSET, Bools, Ints, parts_by_expression, parts_in_columns
from parsers.time_forms import Form
from parsers.zonenames import by_name, may_have
from shared.zones import DAY, SECOND

#: what a stamp turned out to be; a yearless one is put in LEAP_YEAR, of a dayless one the microseconds of its day are
#: given
NOT_READ, INSTANT, WALL, YEARLESS, DAYLESS = 0, 1, 2, 3, 4
UTC = ZoneInfo("UTC")
LEAP_YEAR = 2000


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
    if 0 < length <= 48 and (columns := parts_in_columns(texts.gather(same), first[0], length, form)) is not None:
        parts, fits = columns
        kinds[same], us[same] = _instants(parts, fits, form, zone)
        left[same] &= ~fits
    rest = np.flatnonzero(left)
    if len(rest):
        kinds[rest], us[rest] = _instants(*parts_by_expression(texts.gather(rest), form), form, zone)
    return kinds, us


def _instants(parts: dict[str, Ints], fits: Bools, form: Form, zone: ZoneInfo) -> tuple[npt.NDArray[np.uint8], Ints]:
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
    first = np.ones(n, dtype=np.int64)
    month, day, hour = parts.get("m", first), parts.get("d", first), parts.get("H")
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


def _in_named_zone(codes: Ints, us: Ints, kind: Ints, zone: ZoneInfo) -> tuple[Bools, Ints, Ints]:
    """Whether the names of stamps' zones can be, and what the stamps are then."""
    if (kind == YEARLESS).all():
        return may_have(codes, zone), us, kind
    us, known = by_name(codes, us, zone)
    return known, us, np.full(len(us), INSTANT)


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


def _epochs(parts: dict[str, Ints], fits: Bools, fraction: Ints, unit: int) -> tuple[npt.NDArray[np.uint8], Ints]:
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
