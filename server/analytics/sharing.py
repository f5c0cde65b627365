"""Modes sharing one repeater: holds, attempts, shut-outs, likely waiters, doublings, shut-out risk
(docs/definitions.md, Sharing).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.analytics.activity import AIR, BUSY, OTHER_MODE, UNKNOWN, Ints, Overs, Refusals, timer_us
from shared import spans as sp
from shared.events import MODES
from shared.timers import Timers
from shared.zones import SECOND

ATTEMPT_GAP = 10 * SECOND  #: refusals closer than this are one attempt
WAITER_GAP = 3 * SECOND  #: an over this soon after another mode's hold probably waited for it
DOUBLING = SECOND // 2  #: shorter overlaps are the switching of the host, not two people talking
NEVER = np.iinfo(np.int64).max

Attempts = Refusals  #: an attempt has the columns of its first refusal


@dataclass(frozen=True)
class ShutOuts:
    """n shut-outs, sorted by instant: mode wanted, mode that held (UNKNOWN: we see none) and wait in microseconds (-1:
    not known).
    """

    t: Ints
    wanted: Ints
    holder: Ints
    wait: Ints


def hold_spans(overs: Overs, timers: Timers) -> sp.Spans:
    """The hold after each over, shape (n, 2), in the order of the overs, cut short where another over of any mode
    starts.

    An over without a mode is held by the default hold. A hold cut to nothing has no length. Not canonical.
    """
    following = np.searchsorted(overs.start, overs.end, side="left")
    # An over without length starts when it ends; its own start does not cut its hold.
    following += following == np.arange(len(overs))
    next_start = np.append(overs.start, NEVER)[following]
    return np.stack([overs.end, np.minimum(overs.end + timer_us(timers.hold_s, overs.mode), next_start)]).T


def held(overs: Overs, holds: sp.Spans) -> dict[int, sp.Spans]:
    """What each known mode holds, by mode code: its overs and their hold spans. Each span is one unbroken hold."""
    both = np.stack([overs.start, holds[:, 1]]).T
    seen = np.flatnonzero(np.bincount(overs.mode + 1)[1:]).tolist()
    return {mode: sp.union(both[overs.mode == mode]) for mode in seen}


def idle_holds(overs: Overs, holds: sp.Spans) -> sp.Spans:
    """The part of each over's hold in which nothing is on the air, shape (n, 2), in the order of the overs. Not
    canonical.

    No over starts within a hold, so its idle part begins when the last of the overs that started before it has ended.
    """
    before = np.searchsorted(overs.start, overs.end, side="left") - 1
    reach = np.maximum.accumulate(overs.end)[before]  # where nothing started before (an over without length), see below
    idle_from = np.where(before >= 0, np.maximum(reach, overs.end), overs.end)
    return np.stack([idle_from, np.maximum(holds[:, 1], idle_from)]).T


def attempts(refusals: Refusals) -> Attempts:
    """Refusals of one mode, side and station (unknown is one) less than 10 s after the one before are one attempt, at
    the first.
    """
    order = np.lexsort((refusals.t, refusals.station, refusals.side, refusals.mode))
    joins = np.zeros(len(order), dtype=bool)
    joins[1:] = np.diff(refusals.t[order]) < ATTEMPT_GAP
    for key in (refusals.mode, refusals.side, refusals.station):
        joins[1:] &= np.diff(key[order]) == 0
    first = np.sort(order[~joins])  # refusals are sorted by instant, so attempts are
    return refusals.where(first)


def shut_outs(tried: Attempts, held_by: dict[int, sp.Spans]) -> ShutOuts:
    """Attempts refused for another mode's sake: the host says so, or says nothing and another mode holds.

    The holder is the mode other than the caller's that holds the instant; where several do, the one whose unbroken hold
    began first (then the first of MODES). The wait runs to the end of that unbroken hold, wherever the window ends. A
    caller whose mode is not known counts as other than any: a host that refuses within one mode would have had to call
    it busy."""
    holder = np.full(len(tried.t), UNKNOWN, dtype=np.int64)
    since = np.full(len(tried.t), NEVER, dtype=np.int64)
    until = np.zeros(len(tried.t), dtype=np.int64)
    for mode, holding in sorted(held_by.items()):
        at = sp.locate(holding, tried.t)
        found = np.flatnonzero((at >= 0) & (tried.mode != mode))
        found = found[holding[at[found], 0] < since[found]]
        holder[found] = mode
        since[found], until[found] = holding[at[found], 0], holding[at[found], 1]
    shut = (tried.reason == OTHER_MODE) | ((tried.reason == UNKNOWN) & (holder != UNKNOWN))
    wait = np.where(holder == UNKNOWN, -1, until - tried.t)
    return ShutOuts(tried.t[shut], tried.mode[shut], holder[shut], wait[shut])


def run_out(overs: Overs, holds: sp.Spans, timers: Timers, held_by: dict[int, sp.Spans]) -> dict[int, Ints]:
    """When the unbroken holds of each mode ended that ran out by themselves, sorted: no over cut them short."""
    whole = holds[:, 1] == overs.end + timer_us(timers.hold_s, overs.mode)
    return {
        mode: holding[:, 1][np.isin(holding[:, 1], holds[whole & (overs.mode == mode), 1])]
        for mode, holding in held_by.items()
    }


def likely_waiters(overs: Overs, ended: dict[int, Ints]) -> npt.NDArray[np.bool_]:
    """For each over, whether it is an air over of one mode that starts 0 <= gap < 3 s after an unbroken hold of another
    mode ran out by itself (see run_out).
    """
    caller = np.flatnonzero((overs.side == AIR) & (overs.mode != UNKNOWN))
    start, own = overs.start[caller], overs.mode[caller]
    waited = np.zeros(len(overs), dtype=bool)
    for mode, instants in ended.items():
        ends = np.insert(instants, 0, -NEVER)
        last = ends[np.searchsorted(instants, start, side="right")]
        waited[caller[(own != mode) & (start - WAITER_GAP < last)]] = True
    return waited


def doublings(overs: Overs) -> Ints:
    """For each over, with how many earlier ones (by start) it makes a doubling; the overlap starts where the over does.

    A doubling is a pair on one mode and slot, of different known stations, that overlaps by 0.5 s or more. Such pairs
    are counted as all overlapping pairs less those within one station, each without walking through pairs."""
    able = (overs.station != UNKNOWN) & (overs.mode != UNKNOWN) & (overs.end - overs.start >= DOUBLING)
    reach = np.maximum.accumulate(np.insert(overs.end, 0, -NEVER))
    able &= (overs.start < reach[:-1]) | (
        overs.end > np.append(overs.start[1:], NEVER)
    )  # those that overlap none are no part of it
    some = overs.where(able)
    stream = some.mode * 3 + some.slot
    station = some.station + stream * (int(some.station.max(initial=0)) + 1)
    count = np.zeros(len(overs), dtype=np.int64)
    count[able] = _overlapped_before(some, stream) - _overlapped_before(some, station)
    return count


def _overlapped_before(overs: Overs, group: Ints) -> Ints:
    """For each over, how many before it in its group still run 0.5 s after its start; no over is shorter than 0.5 s.

    Those before it are its place in the group; those of them that are over by then have an early end, and whatever has
    an early end lies before it."""
    group = np.unique(group, return_inverse=True)[1]
    ends = np.sort(overs.end)
    # Ranks in place of instants, so that group and instant fit in one integer.
    end_key = np.sort(group * (len(ends) + 1) + np.searchsorted(ends, overs.end, side="left"))
    start_key = group * (len(ends) + 1) + np.searchsorted(ends, overs.start + DOUBLING, side="left")
    ended = np.searchsorted(end_key, start_key, side="left")  # in all groups up to this one
    order = np.argsort(group, kind="stable")
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))  # likewise
    return place - ended


def busy(tried: Attempts) -> npt.NDArray[np.bool_]:
    """Attempts that the host refused as busy: doublings too."""
    return np.asarray(tried.reason == BUSY)


def shut_out_risk(held_by: dict[int, sp.Spans], seen: sp.Spans) -> npt.NDArray[np.float64]:
    """For each mode code, the share of the seen time that other modes hold: the chance that a caller at a random
    instant finds the repeater held; shape (len(MODES),), nan where nothing was seen.

    Poisson arrivals see time averages (R. W. Wolff, Operations Research 30, 1982; from memory). Other modes hold
    whenever any mode holds, less when the mode holds alone."""
    if not len(seen):
        return np.full(len(MODES), np.nan)
    parts = {mode: sp.clip(holding, int(seen[0, 0]), int(seen[-1, 1])) for mode, holding in held_by.items()}
    instants = np.concatenate([np.empty(0, dtype=np.int64), *(part.T.reshape(-1) for part in parts.values())])
    order = np.argsort(instants, kind="stable")
    step = np.concatenate([np.empty(0, dtype=np.int64), *(np.repeat([1, -1], len(part)) for part in parts.values())])[
        order
    ]
    mode = np.repeat(list(parts), [2 * len(part) for part in parts.values()]).astype(np.int64)[order]
    holding, codes = (
        np.cumsum(step)[:-1],
        np.cumsum(step * mode)[:-1],
    )  # how many modes hold, and the sum of their codes
    lasts = np.diff(sp.covered_before(seen, instants[order]))
    alone = holding == 1
    held_alone = np.bincount(codes[alone], lasts[alone].astype(np.float64), minlength=len(MODES))
    return np.asarray((lasts[holding > 0].sum() - held_alone) / sp.length(seen))
