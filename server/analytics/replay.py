"""The overs and attempts of a window under other timers, their demand staying as it was (docs/definitions.md,
Replay)."""

from dataclasses import dataclass, replace

import numpy as np

from server.analytics import sharing, talk
from server.analytics.activity import (
    AIR,
    BUSY,
    LINK,
    LOCKOUT,
    MARGIN,
    UNKNOWN,
    Activity,
    Ints,
    Mask,
    Overs,
    Window,
    in_window,
    timer_us,
    us,
)
from shared import spans as sp
from shared.events import MODES
from shared.timers import Timers

NOBODY = -2  #: no holder
NEVER = np.iinfo(np.int64).min


@dataclass(frozen=True)
class Walk:
    """One walk through n overs in order of start."""

    placed: Mask  #: (n,) takes place; the others are displaced
    met: Mask  #: (n,) found the repeater held by another mode, whether or not it took place
    holder: Ints  #: (n,) who holds once the over has had its turn
    lets_go: Ints  #: (n,) until when


@dataclass(frozen=True)
class Demand:
    """What a window asks of the repeater, whatever the timers: made once, replayed often."""

    overs: Overs  #: and pages of known length
    page: Mask  #: which of them are pages
    tried: sharing.Attempts  #: attempts with the reason `other-mode` or none
    gap_start: Ints  #: turnaround gaps: the end of the over before
    gap: Ints
    gap_mode: Ints
    let_in: Mask  #: overs that the log shows inside another mode's hold, under the settings in force
    blind: sp.Spans  #: of which nothing is known, whatever the timers
    window: Window
    timers: Timers  #: in force


@dataclass(frozen=True)
class Outcome:
    """What happened, or would have: instants (µs) of each kind in the window, so that days can be told apart."""

    tried: Ints  #: the attempts asked about
    kept: Mask  #: which of them find another mode holding
    displaced_air: Ints
    displaced_link: Ints
    displaced_unknown: Ints  #: of overs whose side was not logged
    displaced_pages: Ints
    idle: sp.Spans  #: idle hold, canonical, clipped to the window
    open_gaps: Ints  #: where each begins
    break_ins: Ints  #: likewise
    cut: Ints  #: overs longer than the time-out
    cut_by: Ints  #: by how much, µs

    @property
    def shut_outs(self) -> Ints:
        """Attempts that stay shut out, and displaced air overs."""
        return np.concatenate([self.tried[self.kept], self.displaced_air])


def walk(overs: Overs, hold: tuple[float, ...], let_in: Mask) -> Walk:
    """Who takes place and who is displaced, keeping the holder and the instant at which it lets go: the latest end of
    its overs so far
    and its hold. An over without a mode may be of any: it meets no hold and has none, but cuts short one in which it
    starts, as in the figures. `hold` is seconds by mode code, the default last; `let_in` (n,) marks overs that take
    place whoever holds."""
    holds = [us(seconds) for seconds in hold]
    latest = [NEVER] * len(holds)  # the latest end of each mode's overs so far
    holder, lets_go = NOBODY, NEVER
    placed, met, holders, until = [], [], [], []
    for start, end, mode, let in zip(
        overs.start.tolist(), overs.end.tolist(), overs.mode.tolist(), let_in.tolist(), strict=True
    ):
        other = start < lets_go and mode not in (holder, UNKNOWN)
        if mode == UNKNOWN:
            if holder != NOBODY and latest[holder] <= start < lets_go:
                lets_go = start
        elif not other or let:
            if end > latest[mode]:
                latest[mode] = end
            holder, lets_go = mode, latest[mode] + holds[mode]
        placed.append(not other or let)
        met.append(other)
        holders.append(holder)
        until.append(lets_go)
    flags = np.array([placed, met], dtype=bool).reshape(2, -1)
    return Walk(flags[0], flags[1], np.array(holders, dtype=np.int64), np.array(until, dtype=np.int64))


def overs_let_in(overs: Overs, hold: tuple[float, ...]) -> Mask:
    """Overs that the log shows to start while another mode holds under these settings: the host let them in."""
    return walk(overs, hold, np.ones(len(overs), dtype=bool)).met


def held_against(walked: Walk, overs: Overs, instants: Ints, mode: Ints) -> Mask:
    """For each caller, whether a mode other than its own holds at that instant. Who does not know its mode is other
    than
    any.
    """
    if not len(overs):
        return np.zeros(len(instants), dtype=bool)
    last = np.searchsorted(overs.start, instants, side="right") - 1
    holder, until = walked.holder[last], walked.lets_go[last]
    return np.asarray((last >= 0) & (instants < until) & (holder != mode))


def demand(activity: Activity, window: Window, timers: Timers) -> Demand:
    """The demand of a window. The walk starts MARGIN before it, and ends with it."""
    near = (activity.sent.end >= window[0] - MARGIN) & (activity.sent.start < window[1])
    overs = activity.sent.where(near)
    tried = sharing.attempts(activity.refusals)
    wanted = in_window(tried.t, window) & (tried.reason != BUSY) & (tried.reason != LOCKOUT)
    starts, gaps, modes = _turnaround_gaps(activity.overs, window)
    return Demand(
        overs,
        activity.sent_page[near],
        tried.where(wanted),
        starts, gaps, modes, overs_let_in(overs, timers.hold_s), activity.blind, window, timers,
    )  # fmt: skip


def _turnaround_gaps(overs: Overs, window: Window) -> tuple[Ints, Ints, Ints]:
    """Turnaround gaps of the log that start in the window: start, length, mode. In order of mode, then as `talk` has
    them."""
    starts, gaps, modes = [], [], []
    for mode in (*range(len(MODES)), UNKNOWN):
        talked = talk.conversations(overs.where(overs.mode == mode))
        now = in_window(talked.gap_start, window)
        starts.append(talked.gap_start[now])
        gaps.append(talked.gap[now])
        modes.append(np.full(int(now.sum()), mode, dtype=np.int64))
    return np.concatenate(starts), np.concatenate(gaps), np.concatenate(modes)


def replay(asked: Demand, hold_s: tuple[float, ...], timeout_s: float) -> Outcome:
    """The window with other holds (seconds by mode code, the default last) and another time-out."""
    overs, window = asked.overs, asked.window
    walked = walk(overs, hold_s, asked.let_in)
    kept = held_against(walked, overs, asked.tried.t, asked.tried.mode)
    displaced = in_window(overs.start, window) & ~walked.placed
    took_place = overs if walked.placed.all() else overs.where(walked.placed)
    holds = sharing.hold_spans(took_place, replace(asked.timers, hold_s=hold_s))
    idle = sp.difference(sp.clip(sp.union(sharing.idle_holds(took_place, holds)), *window), asked.blind)
    hold = timer_us(hold_s, asked.gap_mode)
    opened = asked.gap > hold
    broken = opened.copy()
    broken[opened] = _attempt_between(
        asked, (asked.gap_start + hold)[opened], (asked.gap_start + asked.gap)[opened], asked.gap_mode[opened]
    )
    longer = (overs.end - overs.start - us(timeout_s)) * (in_window(overs.start, window) & ~asked.page)
    return Outcome(
        tried=asked.tried.t,
        kept=kept,
        displaced_air=overs.start[displaced & (overs.side == AIR)],
        displaced_link=overs.start[displaced & (overs.side == LINK)],
        displaced_unknown=overs.start[displaced & ~asked.page & (overs.side == UNKNOWN)],
        displaced_pages=overs.start[displaced & asked.page],
        idle=idle,
        open_gaps=asked.gap_start[opened],
        break_ins=asked.gap_start[broken],
        cut=overs.start[longer > 0],
        cut_by=longer[longer > 0],
    )


def _attempt_between(asked: Demand, starts: Ints, ends: Ints, mode: Ints) -> Mask:
    """For each stretch [start, end), whether an attempt of a mode other than the stretch's own falls in it."""
    t, of = asked.tried.t, asked.tried.mode
    found = np.searchsorted(t, ends, side="left") - np.searchsorted(t, starts, side="left")
    for own in np.unique(mode[mode != UNKNOWN]).tolist():
        its, mine = t[of == own], mode == own
        found[mine] -= np.searchsorted(its, ends[mine], side="left") - np.searchsorted(its, starts[mine], side="left")
    return found > 0
