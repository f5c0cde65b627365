"""Teletraffic: erlangs, the busy hour, Erlang B (docs/definitions.md, Traffic)."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics.activity import Ints, Window
from shared import spans as sp
from shared.zones import DAY, HOUR, from_us, local_days

QUARTER = HOUR // 4
ABSENT = np.iinfo(np.int64).min  #: the instant of a clock quarter that a day does not have


@dataclass(frozen=True)
class BusyHour:
    """The 60 minutes of greatest mean traffic: local clock quarter, erlang, and over how many days it is the mean."""

    start: str | None
    erlang: float | None
    days: int | None


def erlang(streams: Iterable[sp.Spans], window: Window, seen_us: int) -> float | None:
    """Traffic intensity: the sum of the streams' airtime in the window over the seen time; None where nothing was
    seen."""
    return sum(sp.length(sp.clip(stream, *window)) for stream in streams) / seen_us if seen_us else None


def quarter_starts(first: int, after: int, zone: ZoneInfo) -> Ints:
    """The instants of a local day's 96 clock quarters. One that the clock change skips is ABSENT, one that it repeats
    is the first."""
    if after - first == DAY:
        return first + QUARTER * np.arange(96, dtype=np.int64)
    starts = np.full(96, ABSENT, dtype=np.int64)
    for instant in range(first, after, QUARTER):
        local = from_us(instant, zone)
        quarter = local.hour * 4 + local.minute // 15
        if starts[quarter] == ABSENT:
            starts[quarter] = instant
    return starts


def busy_hour(streams: Iterable[sp.Spans], window: Window, zone: ZoneInfo, blind: sp.Spans = sp.NONE) -> BusyHour:
    """The time-consistent busy hour (ITU-T E.600, from memory): of the 96 local clock quarters, the 60 minutes from
    there with the
    greatest mean traffic over the window's whole local days; ties go to the earliest.

    Streams are the airtime of each mode and slot, so that two slots in use are 2 erlang. Each day's traffic is that
    within the seen time of
    its hour (clipped to the window) over that time, where at least half an hour of it was seen. A quarter that fewer
    than half of the days
    with any seen time have is no candidate.
    """
    days = local_days(*window, zone)
    if not days:
        return BusyHour(None, None, None)
    starts = np.stack([quarter_starts(first, after, zone) for _, first, after in days])
    present = starts != ABSENT
    starts = np.where(present, starts, window[0])
    ends = np.minimum(starts + HOUR, window[1])
    unseen = sp.clip(blind, *window)
    seen = ends - starts - _between(unseen, starts, ends)
    present &= seen >= HOUR // 2
    edges = np.array([(first, after) for _, first, after in days], dtype=np.int64)
    days_seen = int((_between(unseen, edges[:, 0], edges[:, 1]) < edges[:, 1] - edges[:, 0]).sum())
    count = present.sum(axis=0)
    candidate = (count > 0) & (2 * count >= days_seen)
    if not candidate.any():
        return BusyHour(None, None, None)
    carried = np.zeros_like(starts)
    for stream in streams:
        carried += _between(sp.difference(stream, unseen), starts, ends)
    daily = np.where(present, carried / np.maximum(seen, 1), 0.0)
    # Rounded, so that a tie is a tie whatever the order of adding up.
    mean = np.where(candidate, np.round(daily.sum(axis=0) / np.maximum(count, 1), 12), -1.0)
    best = int(np.argmax(mean))
    return BusyHour(f"{best // 4:02d}:{best % 4 * 15:02d}", float(mean[best]), int(count[best]))


def _between(covered: sp.Spans, starts: Ints, ends: Ints) -> Ints:
    """Length covered between each start and end; any shape."""
    return sp.covered_before(covered, ends) - sp.covered_before(covered, starts)


def erlang_b(servers: int, erlangs: float) -> float:
    """The share of calls that find all N servers busy, where blocked calls go away: B(0, A) = 1,
    B(N, A) = A B(N-1, A) / (N + A B(N-1, A)). Raises ValueError for a negative or endless load or fewer than no
    servers."""
    if servers < 0 or not 0 <= erlangs < math.inf:
        raise ValueError("Erlang B needs a number of servers and a load of 0 or more")
    blocking = 1.0
    for server in range(1, servers + 1):
        blocking = erlangs * blocking / (server + erlangs * blocking)
    return blocking
