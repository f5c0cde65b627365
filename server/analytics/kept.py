"""Hour tallies, kept in the store so that a look back over months costs hours, not overs; made when they are first
asked for.
"""

import datetime as dt
import hashlib
from dataclasses import dataclass
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
import sqlalchemy as sa

from server.analytics.load import load_activity
from server.store import schema
from server.store.engine import reading, writing
from server.store.facts import read_fact, read_version, set_fact
from shared.timers import Timers
from shared.zones import HOUR

DEFINITIONS = 3  # raised when what a tally holds is defined anew
STRETCH = 31 * 24  # tallies made at once
SUMS = (
    "airtime_us",
    "keyed_us",
    "idle_hold_us",
    "overs",
    "timeouts",
    "timeouts_estimated",
    "near_timeouts",
    "shut_outs",
    "unfinished",
    "seen_us",
)


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


def window_sums(engine: sa.Engine, reckoning: Reckoning, start: int, end: int) -> dict[str, dict[str, int]]:
    """Additive figures of [start, end) by mode word ('' the channel): sums over its hours, those that begin in it.

    Makes and keeps the tallies that are missing. Raises StoreError.
    """
    make_missing(engine, reckoning, start, end)
    tally = schema.tally
    with reading(engine) as connection:
        rows = connection.execute(
            sa.select(tally.c.mode, *(sa.func.coalesce(sa.func.sum(tally.c[name]), 0) for name in SUMS))
            .where(tally.c.hour >= start, tally.c.hour < end)
            .group_by(tally.c.mode)
        )
        return {row[0]: dict(zip(SUMS, map(int, row[1:]), strict=True)) for row in rows}


def airtime_overs_and_seen(connection: sa.Connection, start: int, end: int) -> dict[str, tuple[int, int, int]]:
    """Airtime (microseconds), overs and (of the channel) seen time (microseconds) of [start, end) by mode word, from
    tallies that are there (see make_missing).
    """
    tally = schema.tally
    query = sa.select(
        tally.c.mode,
        sa.func.sum(tally.c.airtime_us),
        sa.func.sum(tally.c.overs),
        sa.func.coalesce(sa.func.sum(tally.c.seen_us), 0),
    ).where(tally.c.hour >= start, tally.c.hour < end)
    return {
        mode: (int(airtime), int(overs), int(seen))
        for mode, airtime, overs, seen in connection.execute(query.group_by(tally.c.mode))
    }


def make_missing(engine: sa.Engine, reckoning: Reckoning, start: int, end: int) -> None:
    """Makes and keeps the tallies of [start, end) that are missing. Raises StoreError."""
    tally, step = schema.tally, reckoning.step()
    wanted = np.arange(-(-start // step) * step, end, step, dtype=np.int64)
    mark = reckoning.fingerprint()
    with reading(engine) as connection:
        version = read_version(connection)
        made_with = read_fact(connection, "reckoning")
        there_are = sa.select(sa.func.count()).where(tally.c.mode == "", tally.c.hour >= start, tally.c.hour < end)
        if made_with == mark and connection.execute(there_are).scalar_one() == len(wanted):
            return
        from server.analytics.tally import (
            hour_tallies,
        )  # here, as frames take long to import and there is seldom one to make
        from server.store.frames import insert_frame

        query = sa.select(tally.c.hour).where(tally.c.mode == "", tally.c.hour >= start, tally.c.hour < end)
        there = connection.execute(query).scalars().all() if made_with == mark else []
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
            connection.execute(sa.delete(tally))
            set_fact(connection, "reckoning", mark)
        fresh = (
            read_version(connection) == version
        )  # otherwise rows have come meanwhile; the next look makes them again
        for first, after, frame in frames:
            connection.execute(sa.delete(tally).where(tally.c.hour >= first, tally.c.hour < after))
            insert_frame(connection, tally, frame)
        if not fresh:
            connection.execute(sa.delete(tally).where(tally.c.hour >= start, tally.c.hour < end))
    if not fresh:
        make_missing(engine, reckoning, start, end)


def _stretches(hours: np.ndarray, step: int) -> list[tuple[int, int]]:
    """Runs of hours that follow one another, none longer than STRETCH, as [first, after)."""
    runs = np.split(hours, np.flatnonzero(np.diff(hours) != step) + 1) if len(hours) else []
    pieces = [run[low : low + STRETCH] for run in runs for low in range(0, len(run), STRETCH)]
    return [(int(piece[0]), int(piece[-1]) + step) for piece in pieces]
