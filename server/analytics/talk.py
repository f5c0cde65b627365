"""How people talk: conversations, turnaround gaps, kerchunks, local talk on wide targets (docs/definitions.md,
Talk)."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.analytics.activity import AIR, LINK, UNKNOWN, Activity, Ints, Overs, Window, in_window
from shared import spans as sp
from shared.events import MODES
from shared.timers import Timers
from shared.zones import SECOND

PAUSE = 30 * SECOND  #: a conversation lasts as long as the pauses in it do not exceed this
KERCHUNK = 3 * SECOND // 2


@dataclass(frozen=True)
class Conversations:
    """k conversations among n overs."""

    of: Ints  #: (n,) the conversation of each over, -1: none
    start: Ints  #: (k,) when the first over starts
    mode: Ints  #: (k,) UNKNOWN where the overs have no mode
    target: Ints  #: (k,) UNKNOWN where the overs have no target
    all_air: npt.NDArray[np.bool_]  #: (k,) every over came from the air side
    any_link: npt.NDArray[np.bool_]  #: (k,) some over came over a link
    gap_start: Ints  #: (g,) turnaround gaps: the end of the over before
    gap: Ints  #: (g,) their lengths, microseconds, 0 or more


def conversations(overs: Overs) -> Conversations:
    """Runs of overs on one mode, slot and target, each starting no later than 30 s after the latest end so far, with
    two known stations.

    What is not known (mode, slot, target) counts as a value of its own. Consecutive means in order of start, then of
    end.
    """
    if not len(overs):
        nothing = np.empty(0, dtype=np.int64)
        return Conversations(
            nothing, nothing, nothing, nothing, nothing.astype(bool), nothing.astype(bool), nothing, nothing
        )
    group = ((overs.mode + 1) * 3 + overs.slot) * (int(overs.target.max()) + 2) + overs.target + 1
    order = np.argsort(group.astype(np.min_scalar_type(group.max())), kind="stable")  # small integers sort in one pass
    if ((np.diff(group[order]) == 0) & (np.diff(overs.start[order]) == 0)).any():
        order = np.lexsort((overs.end, overs.start, group))
    group, start, end, station = group[order], overs.start[order], overs.end[order], overs.station[order]

    begins = np.ones(len(order), dtype=bool)
    begins[1:] = (group[1:] != group[:-1]) | (start[1:] - _latest_end(end, group)[:-1] > PAUSE)
    first = np.flatnonzero(begins)
    # Two known stations: the least and the greatest known code differ.
    greatest = np.maximum.reduceat(station, first)
    least = np.minimum.reduceat(np.where(station == UNKNOWN, np.iinfo(np.int64).max, station), first)
    talked = (greatest != UNKNOWN) & (least < greatest)
    number = np.where(talked, np.cumsum(talked) - 1, -1)[np.cumsum(begins) - 1]
    of = np.empty(len(order), dtype=np.int64)
    of[order] = number

    before, after = station[:-1], station[1:]
    gap = start[1:] - end[:-1]
    turns = ~begins[1:] & (number[1:] >= 0) & (before != UNKNOWN) & (after != UNKNOWN) & (before != after) & (gap >= 0)
    lead = order[first[talked]]
    side = overs.side[order]
    all_air = np.logical_and.reduceat(side == AIR, first)[talked]
    any_link = np.logical_or.reduceat(side == LINK, first)[talked]
    return Conversations(
        of, overs.start[lead], overs.mode[lead], overs.target[lead], all_air, any_link, end[:-1][turns], gap[turns]
    )  # fmt: skip


def _latest_end(end: Ints, group: Ints) -> Ints:
    """The latest end so far within each group; equal groups lie together. By ranks, so that groups can't run into each
    other."""
    by_end = np.argsort(end, kind="stable")
    rank = np.empty(len(end), dtype=np.int64)
    rank[by_end] = np.arange(len(end))
    offset = np.append(0, np.cumsum(group[1:] != group[:-1])) * len(end)
    return np.asarray(end[by_end][np.maximum.accumulate(rank + offset) - offset])


def local_on_wide(activity: Activity, talk: Conversations, timers: Timers) -> npt.NDArray[np.bool_]:
    """For each conversation, whether it is local talk on a wide target: the target's reach is wide and every over is
    from the air side."""
    return _on_wide(activity, talk, timers) & talk.all_air


def unsided_on_wide(activity: Activity, talk: Conversations, timers: Timers, window: Window) -> bool:
    """Whether wide targets had conversations in the window, and of none of them is known whether it was local: no over
    of it came over a link, and not all of them are known to be from the air side.
    """
    start, end = activity.overs.start, activity.overs.end
    inside = in_window(start, window) | (np.minimum(end, window[1]) > np.maximum(start, window[0]))
    mine = np.zeros(len(talk.start), dtype=bool)
    mine[talk.of[inside & (talk.of >= 0)]] = True
    mine &= _on_wide(activity, talk, timers)
    return bool(mine.any() and not (mine & (talk.all_air | talk.any_link)).any())


def _on_wide(activity: Activity, talk: Conversations, timers: Timers) -> npt.NDArray[np.bool_]:
    """For each conversation, whether the reach of its target is wide."""
    code = {name: index for index, name in enumerate(activity.targets)}
    wide = np.zeros(len(talk.start), dtype=bool)
    for mode, name in timers.wide:
        if name in code:
            of_mode = True if mode is None else talk.mode == MODES.index(mode)
            wide |= (talk.target == code[name]) & of_mode
    return wide


def airtime_of(overs: Overs, talk: Conversations, which: npt.NDArray[np.bool_]) -> sp.Spans:
    """What the overs of some conversations (mask (k,)) cover."""
    return sp.union(overs.spans()[np.append(which, False)[talk.of]])


def kerchunks(overs: Overs, talk: Conversations) -> npt.NDArray[np.bool_]:
    """For each over, whether it is an air over shorter than 1.5 s that is in no conversation."""
    return np.asarray((overs.side == AIR) & (overs.end - overs.start < KERCHUNK) & (talk.of == -1))


def median(values: npt.NDArray[np.float64]) -> float | None:
    """The middle value, or the mean of the two in the middle; numpy's own first imports its masked arrays, as long as a
    query takes."""
    ordered, count = np.sort(values), len(values)
    return float(ordered[(count - 1) // 2] + ordered[count // 2]) / 2 if count else None
