"""If a mode were switched off, or given only some hours: who loses what, from the log (docs/definitions.md,
Planning)."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics import sharing
from server.analytics.activity import AIR, LINK, MARGIN, UNKNOWN, Activity, Window, in_window
from server.analytics.replay import demand, held_against, walk
from shared import spans as sp
from shared.timers import Timers
from shared.zones import SECOND, from_us

FEWEST = 5  # fewer stations than this are not told apart: in a small group a number is a name


@dataclass(frozen=True)
class Plan:
    """What a mode would lose, and what the others would gain. Seconds; stations None where they are one to four."""

    overs: int
    air_overs: int
    link_overs: int
    airtime_s: float
    used_hours: int  #: clock hours of the window in which it was used and would not be
    attempts: int  #: its own refused calls that would not be made
    stations: int | None  #: heard in what is lost
    stations_only: int | None  #: of these, those heard in no other mode and at no other hour of the window
    spared: int  #: refused calls of other modes that only this mode explains
    idle_hold_s: float  #: that would be freed, of the channel
    kept_overs: int  #: of the mode, that stay


def lost_hours(instants: np.ndarray, zone: ZoneInfo, hours: tuple[int, int] | None) -> np.ndarray:
    """For each instant, whether the mode would be off then. `hours` are local clock hours [from, to), over midnight
    where to < from; None: off
    at all hours. Equal ends are the whole day."""
    if hours is None:
        return np.ones(len(instants), dtype=bool)
    begin, end = hours
    hour = local_hours(instants, zone)
    inside = (hour >= begin) & (hour < end) if begin < end else (hour >= begin) | (hour < end)
    return ~inside


def local_hours(instants: np.ndarray, zone: ZoneInfo) -> np.ndarray:
    """The local clock hour of each instant, (n,). Offsets are looked up once a quarter of an hour: no zone changes
    within one."""
    quarter = 900 * SECOND
    distinct, where = np.unique(instants // quarter, return_inverse=True)
    hours = np.array([from_us(int(one) * quarter, zone).hour for one in distinct], dtype=np.int64)
    return hours[where] if len(hours) else np.empty(0, dtype=np.int64)


def plan(
    activity: Activity, window: Window, timers: Timers, zone: ZoneInfo, mode: int, hours: tuple[int, int] | None = None
) -> Plan:
    """The plan for one mode code. An over or attempt is lost with the clock hour in which it starts; all else stays as
    it was."""
    overs, sent = activity.overs, activity.sent
    lost = (overs.mode == mode) & lost_hours(overs.start, zone, hours)
    off = (sent.mode == mode) & lost_hours(sent.start, zone, hours)
    now = in_window(overs.start, window)
    gone = overs.where(lost & now)
    asked = demand(activity, window, timers)
    own = asked.tried.mode == mode
    heard = _stations(gone.station)
    left = _stations(overs.station[now & ~lost])
    before = held_against(walk(asked.overs, timers.hold_s, asked.let_in), asked.overs, asked.tried.t, asked.tried.mode)
    near = (sent.end >= window[0] - MARGIN) & (sent.start < window[1])
    staying = sent.where(near & ~off)
    let_in = asked.let_in[~off[near]]
    after = held_against(walk(staying, timers.hold_s, let_in), staying, asked.tried.t, asked.tried.mode)
    idle = [
        sp.length(
            sp.difference(
                sp.clip(sp.union(sharing.idle_holds(some, sharing.hold_spans(some, timers))), *window), asked.blind
            )
        )
        for some in (asked.overs, staying)
    ]
    return Plan(
        overs=len(gone),
        air_overs=int((gone.side == AIR).sum()),
        link_overs=int((gone.side == LINK).sum()),
        airtime_s=sp.length(sp.clip(sp.union(sent.where(off).spans()), *window)) / SECOND,
        used_hours=len(np.unique(gone.start // (3600 * SECOND))),
        attempts=int((own & lost_hours(asked.tried.t, zone, hours)).sum()),
        stations=hidden(len(heard)),
        stations_only=hidden(len(heard - left)),
        spared=int((before & ~after & ~own).sum()),
        idle_hold_s=(idle[0] - idle[1]) / SECOND,
        kept_overs=int((now & (overs.mode == mode) & ~lost).sum()),
    )


def hidden(stations: int) -> int | None:
    """A number of stations, None for one to four."""
    return stations if stations == 0 or stations >= FEWEST else None


def _stations(codes: np.ndarray) -> set[int]:
    return set(np.unique(codes).tolist()) - {UNKNOWN}
