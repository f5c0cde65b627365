"""What a shorter hold of one mode would have changed for the callers of another: the evidence that advice rests on."""

import datetime as dt
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics import sharing, talk
from server.analytics.activity import UNKNOWN, Activity, Window, in_window, us
from server.analytics.replay import demand, replay
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


@dataclass(frozen=True)
class ShorterHold:
    """What a shorter hold of one mode would have meant for the callers of another, the demand staying as it was."""

    wanted: str
    held_by: str
    hold_s: float
    shorter_s: float
    shut_outs: int  #: of the wanted mode, by this holder
    spared: int  #: attempts of the wanted mode that would have found nobody holding (docs/definitions.md, Replay)
    risk: float  #: share of evening time in which others hold
    risk_then: float
    open_gaps: float  #: share of the holder's turnaround gaps longer than the shorter hold
    break_ins: int  #: open gaps of any mode in which somebody else called (docs/definitions.md, Replay)


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
    turnaround gaps open; None where the data is thin, or where it would gain little.
    """
    evening = sp.intersection(evenings(window, zone), seen)
    held_by = sharing.held(activity.sent, sharing.hold_spans(activity.sent, timers))
    pair = _most_shut_out(activity, window, held_by) if len(evening) else None
    if pair is None:
        return None
    holder, wanted, shut_outs = pair
    gaps = _gaps_of(activity, window, holder)
    tried = _shortest(gaps, timers.hold_s[holder]) if len(gaps) >= GAPS_ENOUGH else None
    if tried is None:
        return None
    holds = tuple(tried[0] if mode == holder else hold for mode, hold in enumerate(timers.hold_s))
    then = replace(timers, hold_s=holds)
    held_then = sharing.held(activity.sent, sharing.hold_spans(activity.sent, then))
    risk, risk_then = (float(sharing.shut_out_risk(held, evening)[wanted]) for held in (held_by, held_then))
    if risk_then > risk * (1 - LEAST_GAIN):
        return None
    asked = demand(activity, window, timers)
    before, after = (replay(asked, each.hold_s, timers.timeout_s) for each in (timers, then))
    spared = before.kept & ~after.kept & (asked.tried.mode == wanted)
    return ShorterHold(
        wanted=MODES[wanted],
        held_by=MODES[holder],
        hold_s=timers.hold_s[holder],
        shorter_s=tried[0],
        shut_outs=shut_outs,
        spared=int(spared.sum()),
        risk=risk,
        risk_then=risk_then,
        open_gaps=tried[1],
        break_ins=len(after.break_ins),
    )


def _most_shut_out(activity: Activity, window: Window, held_by: dict[int, sp.Spans]) -> tuple[int, int, int] | None:
    """Holder, wanted mode, and how many of its calls were refused; None where they are few."""
    shut = sharing.shut_outs(sharing.attempts(activity.refusals), held_by)
    now = in_window(shut.t, window) & (shut.holder != UNKNOWN) & (shut.wanted != UNKNOWN)
    pairs = np.bincount(shut.holder[now] * len(MODES) + shut.wanted[now], minlength=1)
    if pairs.max() < SHUT_OUTS_ENOUGH:
        return None
    return (*divmod(int(pairs.argmax()), len(MODES)), int(pairs.max()))


def _shortest(gaps: np.ndarray, hold_s: float) -> tuple[float, float] | None:
    """The shortest hold that leaves few of the gaps open, seconds, and the share that it leaves open."""
    for shorter in HOLDS_TRIED:
        open_gaps = float((gaps > us(shorter)).mean())
        if shorter < hold_s and open_gaps <= OPEN_GAPS_AT_MOST:
            return shorter, open_gaps
    return None


def _gaps_of(activity: Activity, window: Window, mode: int) -> np.ndarray:
    """Turnaround gaps of one mode that start in the window, microseconds."""
    mine = activity.overs.where(activity.overs.mode == mode)
    spoken = talk.conversations(mine)
    return spoken.gap[in_window(spoken.gap_start, window)]
