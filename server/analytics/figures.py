"""All figures of a window (docs/definitions.md)."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics import airtime, sharing, talk, timeouts, traffic
from server.analytics.activity import UNKNOWN, Activity, Ints, Window, in_window
from server.analytics.figure_types import Channel, Duty, Figures, LineCounts, ShutOutPair, Stretch, Talk
from server.analytics.mode_figures import estimated_airtime, known_codes, mode_figures
from server.analytics.window_activity import WindowActivity, seconds_within
from shared import spans as sp
from shared.events import MODES
from shared.timers import Timers
from shared.zones import SECOND


def figures(
    activity: Activity, window: Window, timers: Timers, zone: ZoneInfo, repeater: str, intake: LineCounts
) -> Figures:
    """The figures of [from, to). The activity reaches MARGIN beyond the window on both sides; `intake` is the store's,
    taken as it is.

    Channel figures include overs without a mode (with the default hold and tail); no mode's figures do.
    """
    it = WindowActivity(activity, window, timers)
    stretch = Stretch(*window, zone, sp.length(it.blind) / SECOND)
    if not it.seen_us:
        return Figures(repeater, stretch, Channel(0.0), intake)
    every = Figures(
        repeater=repeater,
        window=stretch,
        channel=_channel(it),
        intake=intake,
        modes=mode_figures(it),
        shut_outs=_shut_out_pairs(it.shut_outs, it.shut_out),
        likely_waiters_estimated=_likely_waiters(it),
        busy_hour=traffic.busy_hour(it.streams.values(), window, zone, it.blind),
        duty=Duty(*(airtime.duty(it.keyed, width, window) for width in airtime.DUTY_SPANS)),
        talk=_talk(it),
    )
    broken = bool(it.failed.any()) or intake.orphans > 0  # some overs have a start or an end only
    return _as_far_as_measured(every, broken=broken, lengthless=broken or bool(it.unmeasured.any()))


def _channel(it: WindowActivity) -> Channel:
    overs, on_air = it.overs, it.activity.on_air
    longest = airtime.longest_unfinished(it.unfinished, it.timers)
    return Channel(
        seen_s=it.seen_us / SECOND,
        airtime_s=seconds_within(on_air, it.window),
        occupancy=airtime.occupancy(on_air, it.window, it.seen_us),
        keyed_s=seconds_within(it.keyed, it.window),
        idle_hold_s=seconds_within(it.idle_after(), it.window),
        overs=int(it.began.sum()),
        pages=int(it.paged.sum()),
        overruns=int((it.began & timeouts.overruns(overs, it.timers)).sum()),
        unfinished=int(it.failed.sum()),
        unfinished_longest_s=int(longest[it.failed].sum()) / SECOND,
        stations=_stations(overs.station[it.began]),
        pages_estimated=int(it.estimated.sum()),
        pages_airtime_estimated_s=estimated_airtime(it),
    )


def _likely_waiters(it: WindowActivity) -> int | None:
    """None where no over of the window tells its side."""
    if it.began.any() and not (it.overs.side[it.began] != UNKNOWN).any():
        return None
    ended = sharing.run_out(it.sent, it.holds, it.timers, it.held_by)
    return int((it.began & sharing.likely_waiters(it.overs, ended)).sum())


def _as_far_as_measured(found: Figures, *, broken: bool, lengthless: bool) -> Figures:
    """The figures without the zeros that nobody knows: no over ended, or nothing of known length was on the air, and
    something went on all the same.
    """
    if broken and not found.channel.overs:
        channel = replace(found.channel, stations=None)
        found = replace(found, channel=channel, likely_waiters_estimated=None, talk=Talk())
    if lengthless and not found.channel.airtime_s:
        known = (fullest if fullest.share else airtime.Fullest() for _, fullest in found.duty)
        keyed_s, idle_s = found.channel.keyed_s or None, found.channel.idle_hold_s or None  # of overs before the window
        channel = replace(found.channel, airtime_s=None, occupancy=None, keyed_s=keyed_s, idle_hold_s=idle_s)
        found = replace(found, channel=channel, busy_hour=traffic.BusyHour(None, None, None), duty=Duty(*known))
    return found


def _stations(station: Ints) -> int | None:
    """Distinct known stations of some overs; not known where none of them names one."""
    found = len(known_codes(station))
    return found if found or not len(station) else None


def _shut_out_pairs(shut: sharing.ShutOuts, now: np.ndarray) -> tuple[ShutOutPair, ...]:
    """Shut-outs by who held and what was wanted, most attempts first, then by name."""
    pair = (shut.holder[now] + 1) * (len(MODES) + 1) + shut.wanted[now] + 1
    attempts, waited = np.bincount(pair), np.bincount(pair, shut.wait[now])
    names = (None, *MODES)
    pairs: list[ShutOutPair] = []
    for code in np.flatnonzero(attempts).tolist():
        holder, wanted = divmod(code, len(names))
        mean_wait = float(waited[code]) / int(attempts[code]) / SECOND if holder else None
        pairs.append(ShutOutPair(names[holder], names[wanted], int(attempts[code]), mean_wait))
    return tuple(sorted(pairs, key=lambda pair: (-pair.attempts, pair.held_by or "unknown", pair.wanted or "unknown")))


def _talk(it: WindowActivity) -> Talk:
    conversed, window = it.conversations, it.window
    gaps = conversed.gap[in_window(conversed.gap_start, window)] / SECOND
    began = in_window(conversed.start, window)
    heard = it.overs.station[it.began]
    if len(heard) and (heard == UNKNOWN).all() and not len(gaps) and not began.any():
        return Talk()  # no over names a station: whether any answered another is not known
    local = talk.local_on_wide(it.activity, conversed, it.timers)
    seconds: float | None = seconds_within(talk.airtime_of(it.overs, conversed, local), window)
    count: int | None = int((local & began).sum())
    if talk.unsided_on_wide(it.activity, conversed, it.timers, window) and not seconds and not count:
        seconds = count = None  # whether any of them was local is not known
    return Talk(
        conversations=int(began.sum()),
        turnaround_median_s=talk.median(gaps),
        short_gap_share=float((gaps < it.timers.courtesy_gap_s).mean()) if len(gaps) else None,
        local_on_wide_s=seconds,
        local_on_wide=count,
    )
