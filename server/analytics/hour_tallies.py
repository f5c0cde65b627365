"""Hour tallies, kept in the store so that a look back over months costs hours, not overs; made when they are first
asked for.
"""

import datetime as dt
import hashlib
from dataclasses import dataclass
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics.load import load_activity
from server.store.engine import Store, reading, writing
from server.store.facts import read_fact, read_version, set_fact
from server.store.tallies import (
    count_tallied,
    drop_all_tallies,
    drop_tallies,
    put_tallies,
    tallied_hours,
    tallied_sums,
)
from shared.timers import Timers
from shared.zones import HOUR

DEFINITIONS = 5  # raised when what a tally holds is defined anew
STRETCH = 31 * 24  # tallies made at once


@dataclass(frozen=True)
class Reckoning:
    """What tallies depend on besides the rows."""

    timers: Timers
    zone: ZoneInfo
    names_of_ids: dict[str, str]
    quiet_log_s: float | None = None

    def fingerprint(self) -> str:
        """Changes when tallies made before must be made again."""
        holds, tails = self.timers.hold_s, self.timers.tail_s
        text = repr(
            (
                DEFINITIONS,
                self.quiet_log_s,
                self.timers.timeout_s,
                self.timers.grace_s,
                holds,
                tails,
                sorted(self.names_of_ids.items()),
                self.step(),
            )
        )
        return hashlib.blake2b(text.encode(), digest_size=16).hexdigest()

    def step(self) -> int:
        """How long a tally is, microseconds: an hour; a quarter of one where the zone's clock hours do not begin with
        UTC's, so that each local day is a sum of tallies, also where the clock changes by half an hour.
        """
        return step_of(self.zone)


@cache
def step_of(zone: ZoneInfo) -> int:
    """See Reckoning.step. Both halves of each year are looked at from 1990 on."""
    offsets = (dt.datetime(year, month, 1, tzinfo=zone).utcoffset() for year in range(1990, 2050) for month in (1, 7))
    return (
        HOUR
        if all(offset is None or offset % dt.timedelta(hours=1) == dt.timedelta() for offset in offsets)
        else HOUR // 4
    )


def window_sums(engine: Store, reckoning: Reckoning, start: int, end: int) -> dict[str, dict[str, int]]:
    """Additive figures of [start, end) by mode word ('' the channel): sums over its hours, those that begin in it.

    Makes and keeps the tallies that are missing. Raises StoreError.
    """
    make_missing(engine, reckoning, start, end)
    with reading(engine) as connection:
        return tallied_sums(connection, start, end)


def make_missing(engine: Store, reckoning: Reckoning, start: int, end: int) -> None:
    """Makes and keeps the tallies of [start, end) that are missing. Raises StoreError."""
    step, mark = reckoning.step(), reckoning.fingerprint()
    wanted = np.arange(-(-start // step) * step, end, step, dtype=np.int64)
    with reading(engine) as connection:
        version, made_with = read_version(connection), read_fact(connection, "reckoning")
        if made_with == mark and count_tallied(connection, start, end) == len(wanted):
            return
        from server.analytics.tally import (
            hour_tallies,
        )  # here, as frames take long to import and there is seldom one to make

        there = tallied_hours(connection, start, end) if made_with == mark else []
        missing = np.setdiff1d(wanted, np.array(there, dtype=np.int64), assume_unique=True)
        frames = []
        for first, after in _stretches(missing, step):
            activity = load_activity(
                connection, first, after, names_of_ids=reckoning.names_of_ids, quiet_log_s=reckoning.quiet_log_s
            )
            frames.append((first, after, hour_tallies(activity, first, after, reckoning.timers, step)))
    if not frames and made_with == mark:
        return
    with writing(engine) as connection:
        if made_with != mark:
            drop_all_tallies(connection)
            set_fact(connection, "reckoning", mark)
        fresh = (
            read_version(connection) == version
        )  # otherwise rows have come meanwhile; the next look makes them again
        for first, after, frame in frames:
            put_tallies(connection, first, after, frame)
        if not fresh:
            drop_tallies(connection, start, end)
    if not fresh:
        make_missing(engine, reckoning, start, end)


def _stretches(hours: np.ndarray, step: int) -> list[tuple[int, int]]:
    """Runs of hours that follow one another, none longer than STRETCH, as [first, after)."""
    runs = np.split(hours, np.flatnonzero(np.diff(hours) != step) + 1) if len(hours) else []
    pieces = [run[low : low + STRETCH] for run in runs for low in range(0, len(run), STRETCH)]
    return [(int(piece[0]), int(piece[-1]) + step) for piece in pieces]
