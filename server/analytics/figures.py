"""All figures of a window (docs/definitions.md)."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics import airtime, sharing, talk, timeouts, traffic
from server.analytics.activity import AIR, LINK, UNKNOWN, Activity, Ints, Overs, Window, in_window
from server.analytics.figure_types import (
    Channel,
    Duty,
    Figures,
    LineCounts,
    Mode,
    ShutOutPair,
    Slots,
    Stretch,
    Talk,
)
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
    overs, sent = activity.overs, activity.sent
    blind = sp.clip(activity.blind, *window)
    seen = activity.seen(window)
    seen_us = sp.length(seen)
    stretch = Stretch(*window, zone, sp.length(blind) / SECOND)
    if not seen_us:
        return Figures(repeater, stretch, Channel(0.0), intake)
    streams = airtime.stream_airtime(sent)
    channel = activity.on_air
    keyed = _without(airtime.keyed(sent, timers), activity.blind)
    holds = sharing.hold_spans(sent, timers)
    idle = sharing.idle_holds(sent, holds)
    held_by = sharing.held(sent, holds)
    ended = sharing.run_out(sent, holds, timers, held_by)
    risk = sharing.shut_out_risk(held_by, seen)
    tried = sharing.attempts(activity.refusals)
    shut = sharing.shut_outs(tried, held_by)
    shut_now = in_window(shut.t, window)
    conversed = talk.conversations(overs)
    began = in_window(overs.start, window)
    inside = in_window(sent.start, window) | (np.minimum(sent.end, window[1]) > np.maximum(sent.start, window[0]))
    paged = in_window(activity.pages.start, window)
    unmeasured = paged & (activity.pages.end < activity.pages.start)
    failed = in_window(activity.unfinished.start, window)
    lengths = airtime.longest_unfinished(activity.unfinished, timers)
    tried_now = in_window(tried.t, window)

    #: Counts by mode code, the unknown one last: what each mask of overs, pages, attempts or shut-outs holds.
    counts = {
        "pages": _by_mode(activity.pages.mode[paged]),
        "overs": _by_mode(overs.mode[began]),
        "air_overs": _by_mode(overs.mode[began & (overs.side == AIR)]),
        "link_overs": _by_mode(overs.mode[began & (overs.side == LINK)]),
        "stations": _stations_by_mode(overs.where(began)),
        "timeouts": _by_mode(overs.mode[began & timeouts.counted(overs)]),
        "timeouts_estimated": _by_mode(overs.mode[began & timeouts.inferred(overs, timers)]),
        "overruns": _by_mode(overs.mode[began & timeouts.overruns(overs, timers)]),
        "near_timeouts": _by_mode(overs.mode[began & timeouts.near(overs, timers)]),
        "timeout_lockouts": _by_mode(tried.mode[tried_now & timeouts.lockouts(tried)]),
        "kerchunks": _by_mode(overs.mode[began & talk.kerchunks(overs, conversed)]),
        "shut_outs_suffered": _by_mode(shut.wanted[shut_now]),
        "shut_outs_caused": _by_mode(shut.holder[shut_now]),
        "doublings": _by_mode(overs.mode[began], sharing.doublings(overs)[began])
        + _by_mode(tried.mode[tried_now & sharing.busy(tried)]),
    }
    present = (
        _by_mode(sent.mode[inside])
        + counts["pages"]
        + _by_mode(activity.unfinished.mode[failed])
        + _by_mode(tried.mode[tried_now])
    )
    # A mode whose hold reaches into the window was seen too: its idle hold and whom it shut out are the window's.
    holding = np.minimum(holds[:, 1], window[1]) > np.maximum(sent.start, window[0])
    present += _by_mode(sent.mode[holding])
    slotted = _by_mode(sent.mode[inside & (sent.slot > 0)])
    named = _by_mode(overs.mode[began & (overs.station != UNKNOWN)])
    endless = _by_mode(activity.unfinished.mode[failed])
    lengthless = _by_mode(activity.pages.mode[unmeasured]) + endless  # what was on the air for nobody knows how long

    modes: dict[str, Mode] = {}
    for mode in np.flatnonzero(present[:-1]).tolist():
        its = {name: int(count[mode]) for name, count in counts.items()}
        found = Mode(
            airtime_s=_seconds(airtime.mode_airtime(streams, mode), window),
            slots=_slots(streams, mode, window) if slotted[mode] else None,
            erlang=traffic.erlang((spans for (of, _), spans in streams.items() if of == mode), window, seen_us),
            idle_hold_s=_seconds(_without(sp.union(idle[sent.mode == mode]), blind), window),
            shut_out_risk=float(risk[mode]),
            **its,
        )
        if lengthless[mode] and not found.airtime_s:  # all that it sent is of unknown length
            found = replace(found, airtime_s=None, erlang=None, idle_hold_s=None)
        if endless[mode] and not found.overs:
            found = replace(found, stations=None)
        modes[MODES[mode]] = _as_told(found, named=bool(named[mode])) if found.overs else found
    every = Figures(
        repeater=repeater,
        window=stretch,
        channel=Channel(
            seen_s=seen_us / SECOND,
            airtime_s=_seconds(channel, window),
            occupancy=airtime.occupancy(channel, window, seen_us),
            keyed_s=_seconds(keyed, window),
            idle_hold_s=_seconds(_without(sp.union(idle), blind), window),
            overs=int(began.sum()),
            pages=int(paged.sum()),
            overruns=int((began & timeouts.overruns(overs, timers)).sum()),
            unfinished=int(failed.sum()),
            unfinished_longest_s=int(lengths[failed].sum()) / SECOND,
            stations=_stations(overs.station[began]),
        ),
        intake=intake,
        modes=modes,
        shut_outs=_shut_out_pairs(shut, shut_now),
        likely_waiters_estimated=(
            int((began & sharing.likely_waiters(overs, ended)).sum())
            if not began.any() or (overs.side[began] != UNKNOWN).any()
            else None
        ),
        busy_hour=traffic.busy_hour(streams.values(), window, zone, blind),
        duty=Duty(*(airtime.duty(keyed, width, window) for width in airtime.DUTY_SPANS)),
        talk=_talk(activity, conversed, window, timers),
    )
    broken = bool(failed.any()) or intake.orphans > 0  # some overs have a start or an end only
    return _as_far_as_measured(every, broken=broken, lengthless=broken or bool(unmeasured.any()))


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


def _slots(streams: dict[tuple[int, int], sp.Spans], mode: int, window: Window) -> Slots:
    first, second = (_seconds(streams.get((mode, slot), sp.NONE), window) for slot in (1, 2))
    return Slots(first, second, _seconds(airtime.both_slots(streams, mode), window))


def _as_told(mode: Mode, *, named: bool) -> Mode:
    """A mode that has overs, without the counts of what the log does not tell: nobody knows them."""
    if not named:
        # Those refused as busy are told without names.
        mode = replace(mode, stations=None, doublings=mode.doublings or None)
    if not mode.air_overs and not mode.link_overs:
        mode = replace(mode, air_overs=None, link_overs=None, kerchunks=None)
    return mode


def _stations(station: Ints) -> int | None:
    """Distinct known stations of some overs; not known where none of them names one."""
    found = len(_known(station))
    return found if found or not len(station) else None


def _without(covered: sp.Spans, blind: sp.Spans) -> sp.Spans:
    """The part of a set that was seen."""
    return sp.difference(covered, blind) if len(blind) else covered


def _seconds(covered: sp.Spans, window: Window) -> float:
    return sp.length(sp.clip(covered, *window)) / SECOND


def _by_mode(mode: Ints, weights: Ints | None = None) -> Ints:
    """How many of each mode code, shape (len(MODES) + 1,); those of no known mode stand last."""
    count = np.bincount(mode + 1, weights, minlength=len(MODES) + 1)
    return np.roll(count, -1).astype(np.int64)


def _known(codes: Ints) -> Ints:
    """The distinct codes that are known."""
    return np.flatnonzero(np.bincount(codes + 1)[1:])


def _stations_by_mode(overs: Overs) -> Ints:
    """Distinct known stations of each mode."""
    many = int(overs.station.max(initial=0)) + 1
    known = overs.where(overs.station != UNKNOWN)
    return _by_mode(_known((known.mode + 1) * many + known.station) // many - 1)


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


def _talk(activity: Activity, conversed: talk.Conversations, window: Window, timers: Timers) -> Talk:
    gaps = conversed.gap[in_window(conversed.gap_start, window)] / SECOND
    began = in_window(conversed.start, window)
    overs = activity.overs
    heard = overs.station[in_window(overs.start, window)]
    if len(heard) and (heard == UNKNOWN).all() and not len(gaps) and not began.any():
        return Talk()  # no over names a station: whether any answered another is not known
    local = talk.local_on_wide(activity, conversed, timers)
    seconds: float | None = _seconds(talk.airtime_of(activity.overs, conversed, local), window)
    count: int | None = int((local & began).sum())
    if talk.unsided_on_wide(activity, conversed, timers, window) and not seconds and not count:
        seconds = count = None  # whether any of them was local is not known
    return Talk(
        conversations=int(began.sum()),
        turnaround_median_s=talk.median(gaps),
        short_gap_share=float((gaps < timers.courtesy_gap_s).mean()) if len(gaps) else None,
        local_on_wide_s=seconds,
        local_on_wide=count,
    )
