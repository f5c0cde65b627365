"""The evidence that recommendations rest on: what a shorter hold would have changed. Nothing is advised on thin
data."""

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics import sharing, talk
from server.analytics.activity import UNKNOWN, Activity, Window, in_window, us
from server.analytics.replay import demand, replay
from server.report.month import ShorterHold
from shared import spans as sp
from shared.events import MODES
from shared.timers import Timers
from shared.zones import HOUR, local_days, to_us

EVENING = (18, 23)  #: local clock hours
HOLDS_TRIED = (3.0, 5.0, 8.0, 10.0, 15.0, 20.0, 30.0)  #: seconds
OPEN_GAPS_AT_MOST = 0.05  #: share of the holder's turnaround gaps that a shorter hold may leave open
GAPS_ENOUGH = 100
SHUT_OUTS_ENOUGH = 20
LEAST_GAIN = 0.1  #: of the time that the repeater is found held, relative


def evenings(window: Window, zone: ZoneInfo) -> sp.Spans:
    """Each whole local day's evening."""
    edges = []
    for day, _, _ in local_days(*window, zone):
        first = to_us(dt.datetime(day.year, day.month, day.day, EVENING[0], tzinfo=zone))
        edges.append((first, first + (EVENING[1] - EVENING[0]) * HOUR))
    return sp.union(sp.spans([a for a, _ in edges], [b for _, b in edges]))


def shorter_hold(
    activity: Activity, window: Window, timers: Timers, zone: ZoneInfo, seen: sp.Spans
) -> ShorterHold | None:
    """The pair of modes with most shut-outs, and the shortest hold of the holder that leaves at most a twentieth of its
    turnaround gaps
    open; None where the data is thin, or where it would gain little."""
    evening = sp.intersection(evenings(window, zone), seen)
    if not len(evening):
        return None
    overs = activity.sent
    held_by = sharing.held(overs, sharing.hold_spans(overs, timers))
    shut = sharing.shut_outs(sharing.attempts(activity.refusals), held_by)
    now = in_window(shut.t, window) & (shut.holder != UNKNOWN) & (shut.wanted != UNKNOWN)
    pairs = np.bincount(shut.holder[now] * len(MODES) + shut.wanted[now], minlength=1)
    if pairs.max() < SHUT_OUTS_ENOUGH:
        return None
    holder, wanted = divmod(int(pairs.argmax()), len(MODES))
    gaps = _gaps_of(activity, window, holder)
    if len(gaps) < GAPS_ENOUGH:
        return None
    hold = timers.hold_s[holder]
    for shorter in HOLDS_TRIED:
        open_gaps = float((gaps > us(shorter)).mean())
        if shorter >= hold or open_gaps > OPEN_GAPS_AT_MOST:
            continue
        then = replace(
            timers, hold_s=tuple(shorter if mode == holder else value for mode, value in enumerate(timers.hold_s))
        )
        held_then = sharing.held(overs, sharing.hold_spans(overs, then))
        risk = float(sharing.shut_out_risk(held_by, evening)[wanted])
        risk_then = float(sharing.shut_out_risk(held_then, evening)[wanted])
        if risk_then > risk * (1 - LEAST_GAIN):
            return None
        asked = demand(activity, window, timers)
        before, after = (replay(asked, each.hold_s, timers.timeout_s) for each in (timers, then))
        spared = before.kept & ~after.kept & (asked.tried.mode == wanted)
        return ShorterHold(
            MODES[wanted],
            MODES[holder],
            hold,
            shorter,
            int(pairs.max()),
            int(spared.sum()),
            risk,
            risk_then,
            open_gaps,
            len(after.break_ins),
        )
    return None


def _gaps_of(activity: Activity, window: Window, mode: int) -> np.ndarray:
    """Turnaround gaps of one mode that start in the window, microseconds."""
    mine = activity.overs.where(activity.overs.mode == mode)
    spoken = talk.conversations(mine)
    return spoken.gap[in_window(spoken.gap_start, window)]
