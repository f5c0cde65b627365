"""Replays over a range of timers: for each mode the holds from 0 to 60 s, the others as they are; and other
time-outs."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Activity, Window, in_window, us
from server.analytics.replay import Demand, Outcome, replay
from server.analytics.replay_days import Floats, counts_by_day, day_edges, days_seen, seconds_by_day
from shared import spans as sp
from shared.events import MODES
from shared.zones import SECOND

HOLDS = tuple(float(seconds) for seconds in range(0, 61, 5))
TIMEOUTS = (60.0, 90.0, 120.0, 150.0, 180.0, 240.0, 300.0)


@dataclass(frozen=True)
class Point:
    """One hold of one mode. Day by day, (days seen,), and in the whole window."""

    hold_s: float
    shut_outs: Floats  #: attempts that stay, and displaced air overs
    #: displaced overs that were not received by radio, and so no shut-outs: of links, and of sides that were not logged
    unheard: Floats
    idle_s: Floats
    open_gaps: Floats
    break_ins: Floats
    own_open: int  #: open gaps of the mode itself
    spared: int  #: attempts, of those that the settings in force explain
    displaced: int  #: air overs


@dataclass(frozen=True)
class Curve:
    """What the hold of one mode does."""

    mode: int
    in_force: Point
    points: tuple[Point, ...]  #: in order of hold; one of them is the hold in force
    gaps: int  #: turnaround gaps of the mode


@dataclass(frozen=True)
class Cut:
    """One time-out: overs longer, by how much in all, and the overs there are."""

    timeout_s: float
    overs: int
    seconds: float


def modes_of(asked: Demand) -> tuple[int, ...]:
    """Modes with an over in the window, most airtime in it first."""
    overs = asked.overs
    present = [mode for mode in np.unique(overs.mode[in_window(overs.start, asked.window)]).tolist() if mode >= 0]
    on_air = {mode: sp.length(sp.clip(sp.union(overs.spans()[overs.mode == mode]), *asked.window)) for mode in present}
    return tuple(sorted(present, key=lambda mode: -on_air[mode]))


def curve(asked: Demand, now: Outcome, activity: Activity, zone: ZoneInfo, mode: int) -> Curve:
    """The holds of one mode from 0 to 60 s, and the one in force. `now` is the outcome under the settings in force."""
    edges = day_edges(asked.window, zone)
    seen = days_seen(edges, activity.blind)
    held = asked.timers.hold_s[mode]
    points = tuple(_point(asked, now, edges, seen, mode, seconds) for seconds in sorted({*HOLDS, held}))
    in_force = next(point for point in points if point.hold_s == held)
    return Curve(mode, in_force, points, int((asked.gap_mode == mode).sum()))


def _point(
    asked: Demand, now: Outcome, edges: npt.NDArray[np.int64], seen: npt.NDArray[np.bool_], mode: int, seconds: float
) -> Point:
    holds = tuple(seconds if code == mode else own for code, own in enumerate(asked.timers.hold_s[: len(MODES)]))
    then = replay(asked, (*holds, asked.timers.hold_s[-1]), asked.timers.timeout_s)
    own_open = int((asked.gap[asked.gap_mode == mode] > us(seconds)).sum())

    def daily(instants: npt.NDArray[np.int64]) -> Floats:
        return counts_by_day(instants, edges)[seen]

    return Point(
        seconds,
        daily(then.shut_outs),
        daily(np.concatenate([then.displaced_link, then.displaced_unknown, then.displaced_pages])),
        seconds_by_day(then.idle, edges)[seen],
        daily(then.open_gaps),
        daily(then.break_ins),
        own_open,
        int((now.kept & ~then.kept).sum()),
        len(then.displaced_air),
    )


def cuts(asked: Demand) -> tuple[Cut, ...]:
    """Overs cut by each time-out, the one in force among them."""
    lengths = (asked.overs.end - asked.overs.start)[in_window(asked.overs.start, asked.window)]
    found = []
    for timeout_s in sorted({*TIMEOUTS, asked.timers.timeout_s}):
        beyond = lengths[lengths > us(timeout_s)] - us(timeout_s)
        found.append(Cut(timeout_s, len(beyond), int(beyond.sum()) / SECOND))
    return tuple(found)


def crossed(changes: list[int], window: Window) -> bool:
    """Whether a change of timers lies in the window: then the settings in force are not those of all of it."""
    return any(window[0] < at < window[1] for at in changes)
