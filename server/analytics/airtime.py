"""Time on the air: airtime of modes, slots and the channel, keyed time, duty (docs/definitions.md, Time on the air)."""

from dataclasses import dataclass

import numpy as np

from server.analytics.activity import Ints, Overs, Unfinished, Window, timer_us, us
from shared import spans as sp
from shared.timers import Timers
from shared.zones import SECOND

#: The spans of duty, microseconds. 6 and 30 min are those over which exposure is averaged: 6 min occupational and 30
#: min general population, FCC OET Bulletin 65 table 1 (quoted); 6 min local, ICNIRP 2020 (quoted), and 30 min whole
#: body (from memory). 60 min is our own.
DUTY_SPANS = (360 * SECOND, 1800 * SECOND, 3600 * SECOND)


@dataclass(frozen=True)
class Fullest:
    """The fullest span of one length: its keyed share (None: not known), and where it lies (None where nothing was
    keyed).
    """

    share: float | None = None
    span: Window | None = None  #: [start, end), microseconds


def airtime(overs: Overs) -> sp.Spans:
    """What any of the overs covers; overlaps count once."""
    return sp.union(overs.spans())


def stream_airtime(overs: Overs) -> dict[tuple[int, int], sp.Spans]:
    """Airtime of each stream, by (mode code, slot). A mode without slots is one stream (slot 0); so are overs without a
    mode.
    """
    stream = (overs.mode + 1) * 3 + overs.slot
    every = overs.spans()
    return {
        (code // 3 - 1, code % 3): sp.union(every[stream == code])
        for code in np.flatnonzero(np.bincount(stream)).tolist()
    }


def mode_airtime(streams: dict[tuple[int, int], sp.Spans], mode: int) -> sp.Spans:
    """Airtime of a mode: the union of its streams."""
    mine = [covered for (of, _), covered in streams.items() if of == mode]
    return mine[0] if len(mine) == 1 else sp.union(*mine)


def both_slots(streams: dict[tuple[int, int], sp.Spans], mode: int) -> sp.Spans:
    """When both slots of a mode are in use."""
    return sp.intersection(streams.get((mode, 1), sp.NONE), streams.get((mode, 2), sp.NONE))


def occupancy(covered: sp.Spans, window: Window, seen_us: int) -> float | None:
    """Occupied time over observed time, as Recommendation ITU-R SM.1880 has a channel's occupancy (formula quoted),
    measured continuously.
    """
    return sp.length(sp.clip(covered, *window)) / seen_us if seen_us else None


def keyed(overs: Overs, timers: Timers) -> sp.Spans:
    """When the transmitter is keyed: every over, air or link, with the tail of its mode."""
    return sp.union(sp.spans(overs.start, overs.end + timer_us(timers.tail_s, overs.mode)))


def duty(keyed_time: sp.Spans, width: int, window: Window) -> Fullest:
    """The greatest keyed share of any span of `width` microseconds that ends inside the window (it may begin before);
    the earliest such.
    """
    covered, start, end = sp.fullest(keyed_time, width, *window)
    return Fullest(covered / width, (start, end)) if covered else Fullest(0.0)


def longest_unfinished(unfinished: Unfinished, timers: Timers) -> Ints:
    """The longest that each unfinished over can have lasted, microseconds: to the next event on its key, at most the
    time-out. An event that is stamped before the start, out of order, tells nothing of that.
    """
    left = unfinished.until - unfinished.start
    return np.where(left < 0, us(timers.timeout_s), np.minimum(left, us(timers.timeout_s)))
