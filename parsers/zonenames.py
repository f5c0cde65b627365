"""Zone names in stamps: UTC's own, and those that the dialect's zone has at the stamp's instant. Any other name is no
stamp.
"""

import datetime as dt
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import polars as pl

from shared.numbers import grouped

Ints = npt.NDArray[np.int64]
OF_UTC = ("UTC", "GMT", "Z")
LONGEST = 6  # letters of a name that a stamp may have


def code_of(name: str) -> int:
    """A name as a number, case aside."""
    return int.from_bytes(name.upper().encode()[:LONGEST], "big")


def named_of(code: int) -> str:
    """The name behind a number of `code_of`."""
    return int(code).to_bytes(LONGEST, "big").lstrip(b"\0").decode()


def by_name(codes: Ints, wall: Ints, zone: ZoneInfo) -> tuple[Ints, npt.NDArray[np.bool_]]:
    """UTC microseconds (n,) of wall-clock times that name their zone, and where the name was known."""
    us, known = wall.copy(), np.zeros(len(wall), dtype=np.bool_)
    for code in np.unique(codes).tolist():
        at = np.flatnonzero(codes == code)
        name = named_of(code)
        if name in OF_UTC:
            known[at] = True
            continue
        local = pl.Series(wall[at]).cast(pl.Datetime("us"))
        for which in ("latest", "earliest"):
            moment = local.dt.replace_time_zone(zone.key, ambiguous=which, non_existent="null")
            fits = (moment.dt.to_string("%Z").str.to_uppercase() == name).fill_null(False).to_numpy()
            us[at[fits]] = moment.cast(pl.Int64).fill_null(0).to_numpy()[fits]
            known[at[fits]] = True
    return us, known


def may_have(codes: Ints, zone: ZoneInfo) -> npt.NDArray[np.bool_]:
    """Of stamps whose date isn't known yet: whether their zone's name is one that the dialect's zone has at some
    time.
    """
    return np.isin(codes, [code_of(name) for name in _names_of(zone.key)])


@lru_cache
def _names_of(key: str) -> frozenset[str]:
    zone = ZoneInfo(key)
    names = {
        dt.datetime(year, month, 1, tzinfo=zone).tzname() or "" for year in range(1990, 2038) for month in (1, 4, 7, 10)
    }
    of_utc = all(dt.datetime(2020, month, 1, tzinfo=zone).utcoffset() == dt.timedelta(0) for month in (1, 7))
    return frozenset({name.upper() for name in names} | (set(OF_UTC) if of_utc else set()))


def refusal(name: str, zone: ZoneInfo, lines: int) -> str:
    """Why lines are unread whose stamps name another zone."""
    return (
        f"{grouped(lines)} {'line names' if lines == 1 else 'lines name'} the time zone {name}, which {zone.key} does"
        f" not have at that instant, so {'it is' if lines == 1 else 'they are'} unread; UTC, GMT and Z are known, and"
        " the names of the dialect's own zone"
    )
