"""From stamps to instants, in the order in which the lines were written: the year that syslog leaves out, and the hour
that a zone has twice.
"""

from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import polars as pl

from parsers.stamps import INSTANT, LEAP_YEAR, YEARLESS, days_from_civil
from shared.zones import DAY, SECOND, from_us, to_us

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
NEW_YEAR_US = 180 * DAY  #: a stamp that lies so much before the one before it is of the next year
OUT_OF_ORDER_US = 365 * DAY  #: one that lies so much after it was written late, over new year
TOLERANCE_US = 5 * SECOND  #: lines may be written so much out of order
UTC_NAMES = ("UTC", "Etc/UTC", "GMT", "Z")


def to_instants(
    kinds: npt.NDArray[np.uint8], us: Ints, lasting_us: Ints, zone: ZoneInfo, last_us: int | None, around_us: int
) -> tuple[Ints, Bools]:
    """UTC microseconds (n,) of n stamps in the order of their lines, and which could be told.

    `lasting_us` is how long after its stamp a line was written; `last_us` when the line before the first was,
    `around_us` settles the year where that isn't known: no stamp without a year is later than a day after it, unless it
    is 0. Times that a clock change leaves out count with the offset before it; of a time that comes twice the earlier
    is meant, unless the line would have been written before the one before it."""
    known = kinds != 0
    if not known.any():
        return us, known
    if not known.all():
        out, sure = us.copy(), known.copy()
        at = np.flatnonzero(known)
        out[at], sure[at] = to_instants(kinds[at], us[at], lasting_us[at], zone, last_us, around_us)
        return out, sure
    sure = np.ones(len(us), dtype=np.bool_)
    if (kinds == YEARLESS).any():
        us, sure = _with_years(kinds, us, zone, last_us, around_us)
    return _with_offsets(kinds != INSTANT, us, lasting_us, zone, last_us), sure


def _with_years(
    kinds: npt.NDArray[np.uint8], us: Ints, zone: ZoneInfo, last_us: int | None, around_us: int
) -> tuple[Ints, Bools]:
    """Puts each yearless stamp into its year; False for a 29 February of a year that has none."""
    wall = us.copy()
    instants = kinds == INSTANT
    if instants.any():
        wall[instants] = wall_clock(us[instants], zone)
    first_year = None if last_us is None else from_us(last_us, zone).year
    place = place_in_leap_year(wall)
    yearless = kinds == YEARLESS
    if first_year is None:
        start = int(np.argmax(yearless))
        first_year, before = year_near(int(place[start]), zone, around_us), place[0] if yearless[0] else np.int64(0)
    else:
        before = place_in_leap_year(wall_clock(np.array([last_us], dtype=np.int64), zone))[0]
    step = np.diff(place, prepend=before)
    turns = np.where(step < -NEW_YEAR_US, 1, np.where(step > OUT_OF_ORDER_US, -1, 0))
    passed = np.cumsum(np.where(yearless, turns, 0))
    if last_us is None and yearless.all():  # from the newest back: it is the last one that is no later than now
        first_year = year_near(int(place[-1]), zone, around_us) - int(passed[-1])
    # A stamp with a year sets the count anew for those after it.
    base = np.where(yearless, np.int64(first_year), _year(wall) - passed)
    setter = np.maximum.accumulate(np.where(yearless, -1, np.arange(len(us))))
    year = np.where(setter >= 0, base[np.maximum(setter, 0)], first_year) + passed
    # A clock that fell back looks like a new year; no year lies ahead of now.
    year = np.where(yearless, np.minimum(year, _latest_years(place, zone, around_us)), year) if around_us else year
    shift = days_from_civil(year, np.ones_like(year), np.ones_like(year)) - days_from_civil(*_ones(LEAP_YEAR))
    in_leap = place // DAY
    leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    late = (in_leap > 59) & ~leap  # after 29 February, which the year doesn't have
    dated = us + (shift - late) * DAY
    return np.where(yearless, dated, us), ~(yearless & (in_leap == 59) & ~leap)


def _ones(year: int) -> tuple[Ints, Ints, Ints]:
    return np.array([year], dtype=np.int64), np.array([1], dtype=np.int64), np.array([1], dtype=np.int64)


def _year(wall: Ints) -> Ints:
    return wall.astype("datetime64[us]").astype("datetime64[Y]").astype(np.int64) + 1970


def place_in_leap_year(wall: Ints) -> Ints:
    """Microseconds since new year, as if the year were a leap year."""
    dates = wall.astype("datetime64[us]")
    months = dates.astype("datetime64[M]")
    month = months.astype(np.int64) % 12 + 1
    into_month = (dates - months.astype("datetime64[us]")).astype(np.int64)
    first = np.array([0, 31, 60, 91, 121, 152, 182, 213, 244, 274, 305, 335], dtype=np.int64)
    return np.asarray(first[month - 1] * DAY + into_month)


def _latest_years(place: Ints, zone: ZoneInfo, around_us: int) -> Ints:
    """(n,) the latest year that puts each stamp no later than a day after `around_us`."""
    limit = wall_clock(np.array([around_us + DAY], dtype=np.int64), zone)
    return _year(limit) - (place > place_in_leap_year(limit))


def wall_in_year(place: int, year: int) -> int:
    """Wall-clock microseconds of a place in a leap year, in another year."""
    return _at(year, place)


def year_near(place: int, zone: ZoneInfo, around_us: int) -> int:
    """The latest year that puts a stamp no later than a day after `around_us`; a 29 February falls in a leap year."""
    limit = int(wall_clock(np.array([around_us + DAY], dtype=np.int64), zone)[0])
    year = int(_year(np.array([limit]))[0])
    if 59 * DAY <= place < 60 * DAY:
        while not (year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)) or _at(year, place) > limit:
            year -= 1
        return year
    return year if _at(year, place) <= limit else year - 1


def _at(year: int, place: int) -> int:
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    return int(days_from_civil(*_ones(year))[0]) * DAY + place - (0 if leap or place < 60 * DAY else DAY)


def _with_offsets(local: Bools, us: Ints, lasting_us: Ints, zone: ZoneInfo, last_us: int | None) -> Ints:
    """Wall-clock times, where `local`, to instants."""
    at = np.flatnonzero(local)
    if not len(at) or zone.key in UTC_NAMES:
        return us
    earlier, later = us.copy(), us.copy()
    wall = pl.Series(us[at]).cast(pl.Datetime("us"))
    first = wall.dt.replace_time_zone(zone.key, ambiguous="earliest", non_existent="null").cast(pl.Int64)
    second = wall.dt.replace_time_zone(zone.key, ambiguous="latest", non_existent="null").cast(pl.Int64)
    gaps = np.flatnonzero(first.is_null().to_numpy())
    earlier[at], later[at] = first.fill_null(0).to_numpy(), second.fill_null(0).to_numpy()
    if len(gaps):
        # PEP 495: of a time that doesn't exist, fold=0 has the offset before the change.
        moments = {t: to_us(from_us(t).replace(tzinfo=zone)) for t in np.unique(us[at[gaps]]).tolist()}
        earlier[at[gaps]] = later[at[gaps]] = [moments[t] for t in us[at[gaps]].tolist()]
    written = earlier + lasting_us
    for i in np.flatnonzero(earlier != later).tolist():
        before = written[i - 1] if i else last_us
        if before is not None and written[i] < before - TOLERANCE_US:
            earlier[i] = later[i]
            written[i] = later[i] + lasting_us[i]
    return earlier


def wall_clock(us: Ints, zone: ZoneInfo) -> Ints:
    """What a zone's clocks show at instants, as microseconds since 1970 of that clock."""
    local = pl.Series(us).cast(pl.Datetime("us", "UTC")).dt.convert_time_zone(zone.key).dt.replace_time_zone(None)
    return local.cast(pl.Int64).to_numpy()
