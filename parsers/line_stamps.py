"""The stamps of lines in their order: one without a stamp of its own stands under the one before it."""

import numpy as np
import numpy.typing as npt
import polars as pl

from parsers.reading import Carry
from parsers.stamps import NOT_READ, zone_names
from parsers.time_forms import Form
from parsers.zonenames import OF_UTC


def stamps_of_lines(
    us: npt.NDArray[np.int64], stamped: npt.NDArray[np.bool_], carry: Carry
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """An unstamped line has the stamp of the line before; where there is none, no instant is known."""
    before = np.maximum.accumulate(np.where(stamped, np.arange(len(us)), -1))
    stamps = np.where(before >= 0, us[np.maximum(before, 0)], carry.last_us or 0)
    return stamps, (before >= 0) | (carry.last_us is not None)


def bare_at_the_end(stamped: npt.NDArray[np.bool_]) -> int:
    """How many of the last lines have no stamp of their own; `stamped` (n,) says which have one."""
    at = np.flatnonzero(stamped)
    return len(stamped) - (int(at[-1]) + 1 if len(at) else 0)


def last_written(us: npt.NDArray[np.int64], stamped: npt.NDArray[np.bool_], carry: Carry) -> int | None:
    """The instant at which the last line with a stamp was written; `us` and `stamped` (n,)."""
    at = np.flatnonzero(stamped)
    return int(us[at[-1]]) if len(at) else carry.last_us


def foreign_zones(stamps: pl.Series, kinds: npt.NDArray[np.uint8], form: Form) -> list[str]:
    """The zones that stamps (n,) name which could not be read, one a stamp."""
    unread = np.flatnonzero(kinds == NOT_READ)
    return [name for name in zone_names(stamps.gather(unread), form) if name not in OF_UTC] if len(unread) else []
