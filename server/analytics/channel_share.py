"""How the modes share the channel, by mode, hour and target: what the Sharing page shows beyond the figures
(docs/definitions.md).
"""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics import airtime, sharing, talk, traffic
from server.analytics.activity import AIR, UNKNOWN, Activity, Ints, Window, in_window
from server.analytics.dayhour import day_hour_map
from server.analytics.intervals import Interval, wilson
from server.analytics.planning import FEWEST, local_hours
from server.analytics.queueing import offered
from shared import spans as sp
from shared.timers import Timers
from shared.zones import SECOND


@dataclass(frozen=True)
class HeldTime:
    """What one mode holds, seconds."""

    mode: int
    held_s: float
    airtime_s: float
    idle_s: float
    resumed_s: float  #: of the idle hold: silence that an over of the same mode ended
    ran_out_s: float  #: the rest: silence that nobody of the mode used


@dataclass(frozen=True)
class Chance:
    """The chance of finding the repeater held: as a share of time, and as callers met it."""

    risk: float | None  #: share of the seen time that other modes hold
    shut_outs: int
    calls: int  #: shut-outs, and air overs that began an unbroken hold of the mode
    interval: Interval | None  #: 95 %, Wilson


@dataclass(frozen=True)
class Loss:
    """Erlang B beside what was measured."""

    servers: int
    offered: float  #: erlang
    expected: float  #: share of calls that find no server, by Erlang B: estimated
    measured: float
    interval: Interval | None  #: of the measured share, where it is one of calls


@dataclass(frozen=True)
class Slots:
    """DMR's two slots, seconds and erlang."""

    slot_s: tuple[float, float]
    both_s: float
    loss: Loss | None
    one_slot: float | None  #: share of calls that one slot alone would not have carried, by Erlang B: estimated


@dataclass(frozen=True)
class Talked:
    """How people talk on one target or in one hour."""

    conversations: int
    gaps: int
    gap_median_s: float | None
    short_share: float | None
    kerchunks: int
    local_on_wide: int


@dataclass(frozen=True)
class Sharing:
    """All of it for one window; modes by airtime, the most first."""

    held: tuple[HeldTime, ...]
    chances: dict[int, tuple[Chance, ...]]  #: by mode code, 24 local clock hours and then the whole window
    slots: dict[int, Slots]  #: of modes with slots
    channel: Loss | None
    by_hour: tuple[Talked, ...]  #: 24
    by_target: tuple[
        tuple[int, int, Talked], ...
    ]  #: (mode, target, …) of those heard from FEWEST stations or more, most talk first


def channel_share(activity: Activity, window: Window, timers: Timers, zone: ZoneInfo) -> Sharing:
    """Everything, from activity that reaches MARGIN beyond the window."""
    overs, sent = activity.overs, activity.sent
    holds = sharing.hold_spans(sent, timers)
    held_by = sharing.held(sent, holds)
    seen = activity.seen(window)
    shut = sharing.shut_outs(sharing.attempts(activity.refusals), held_by)
    streams = airtime.stream_airtime(sent)
    conversed = talk.conversations(overs)
    on_air = {mode: sp.length(sp.clip(airtime.mode_airtime(streams, mode), *window)) for mode in held_by}
    present = sorted((mode for mode in held_by if len(sp.clip(held_by[mode], *window))), key=lambda mode: -on_air[mode])
    return Sharing(
        held=tuple(_held_time(activity, holds, held_by[mode], streams, mode, window) for mode in present),
        chances={mode: _chances(activity, held_by, shut, mode, window, zone, seen) for mode in present},
        slots={mode: found for mode in present if (found := _slots(streams, mode, window, sp.length(seen)))},
        channel=_channel(held_by, shut, window, sp.length(seen)),
        by_hour=_by_hour(activity, conversed, timers, window, zone),
        by_target=_by_target(activity, conversed, timers, window),
    )


def _held_time(
    activity: Activity,
    holds: sp.Spans,
    held: sp.Spans,
    streams: dict[tuple[int, int], sp.Spans],
    mode: int,
    window: Window,
) -> HeldTime:
    overs = activity.sent
    idle = sharing.idle_holds(overs, holds)
    blind = activity.blind
    own = overs.mode == mode
    following = np.searchsorted(overs.start, overs.end, side="left")
    following += following == np.arange(len(overs))
    after = np.minimum(following, len(overs) - 1)
    resumed = own & (following < len(overs)) & (overs.start[after] == holds[:, 1]) & (overs.mode[after] == mode)
    silent, used = (
        sp.length(sp.difference(sp.clip(sp.union(idle[which]), *window), blind)) / SECOND for which in (own, resumed)
    )
    on_air = sp.length(sp.clip(airtime.mode_airtime(streams, mode), *window)) / SECOND
    return HeldTime(
        mode, sp.length(sp.difference(sp.clip(held, *window), blind)) / SECOND, on_air, silent, used, silent - used
    )


def _chances(
    activity: Activity,
    held_by: dict[int, sp.Spans],
    shut: sharing.ShutOuts,
    mode: int,
    window: Window,
    zone: ZoneInfo,
    seen: sp.Spans,
) -> tuple[Chance, ...]:
    """By local clock hour, then over all."""
    overs = activity.overs
    others = sp.union(*(holding for other, holding in held_by.items() if other != mode))
    blind = sp.clip(activity.blind, *window)
    held = np.nansum(day_hour_map(sp.intersection(others, seen), window, zone, blind).seconds, axis=0)
    observed = np.nansum(day_hour_map(seen, window, zone).seconds, axis=0)
    refused = _hours_of(shut.t[(shut.wanted == mode) & in_window(shut.t, window)], zone)
    begins = (
        np.isin(overs.start, held_by[mode][:, 0])
        & (overs.mode == mode)
        & (overs.side == AIR)
        & in_window(overs.start, window)
    )
    fresh = _hours_of(overs.start[begins], zone)
    hours = [_chance(held[hour], observed[hour], int(refused[hour]), int(fresh[hour])) for hour in range(24)]
    return (*hours, _chance(held.sum(), observed.sum(), int(refused.sum()), int(fresh.sum())))


def _chance(held: float, observed: float, refused: int, fresh: int) -> Chance:
    calls = refused + fresh
    return Chance(float(held / observed) if observed > 0 else None, refused, calls, wilson(refused, calls))


def _hours_of(instants: Ints, zone: ZoneInfo) -> Ints:
    """How many instants fall in each local clock hour, (24,)."""
    return np.bincount(local_hours(instants, zone), minlength=24)


def _slots(streams: dict[tuple[int, int], sp.Spans], mode: int, window: Window, seen_us: int) -> Slots | None:
    used = [sp.length(sp.clip(streams.get((mode, slot), sp.NONE), *window)) for slot in (1, 2)]
    if not any(used) or not seen_us:
        return None
    both = sp.length(sp.clip(airtime.both_slots(streams, mode), *window))
    carried = sum(used) / seen_us
    loss, one = None, None
    if carried < 2:
        load = offered(2, carried)
        loss = Loss(2, load, traffic.erlang_b(2, load), both / seen_us, None)
        one = traffic.erlang_b(1, load)
    return Slots((used[0] / SECOND, used[1] / SECOND), both / SECOND, loss, one)


def _channel(held_by: dict[int, sp.Spans], shut: sharing.ShutOuts, window: Window, seen_us: int) -> Loss | None:
    """The whole repeater as one server: a call is an unbroken hold of a mode, a lost call a shut-out, each lasting as
    long as the mean hold.
    """
    starts = np.concatenate([np.empty((0, 2), dtype=np.int64), *held_by.values()])
    calls = starts[in_window(starts[:, 0], window)]
    lost = int(in_window(shut.t, window).sum())
    if not len(calls) or not seen_us:
        return None
    load = (len(calls) + lost) * float((calls[:, 1] - calls[:, 0]).mean()) / seen_us
    return Loss(1, load, traffic.erlang_b(1, load), lost / (len(calls) + lost), wilson(lost, len(calls) + lost))


def _talked(gaps: Ints, began: int, kerchunks: int, local: int, timers: Timers) -> Talked:
    seconds = gaps / SECOND
    return Talked(
        began, len(gaps), talk.median(seconds),
        float((seconds < timers.courtesy_gap_s).mean()) if len(gaps) else None, kerchunks, local,
    )  # fmt: skip


def _by_hour(
    activity: Activity, conversed: talk.Conversations, timers: Timers, window: Window, zone: ZoneInfo
) -> tuple[Talked, ...]:
    overs = activity.overs
    began = in_window(conversed.start, window)
    local = _hours_of(conversed.start[began & talk.local_on_wide(activity, conversed, timers)], zone)
    starts = _hours_of(conversed.start[began], zone)
    kerchunks = _hours_of(overs.start[talk.kerchunks(overs, conversed) & in_window(overs.start, window)], zone)
    now = in_window(conversed.gap_start, window)
    gaps, hour = conversed.gap[now], local_hours(conversed.gap_start[now], zone)
    return tuple(_talked(gaps[hour == h], int(starts[h]), int(kerchunks[h]), int(local[h]), timers) for h in range(24))


def _by_target(
    activity: Activity, conversed: talk.Conversations, timers: Timers, window: Window
) -> tuple[tuple[int, int, Talked], ...]:
    """By mode and target. A target that fewer than FEWEST stations used may be a person's own number, so it stands
    among the others, under UNKNOWN; so do overs without a target.
    """
    overs, began = activity.overs, in_window(conversed.start, window)
    kerchunk = talk.kerchunks(overs, conversed) & in_window(overs.start, window)
    wide = talk.local_on_wide(activity, conversed, timers)
    key = (overs.mode + 1) * (len(activity.targets) + 1) + overs.target + 1
    now = in_window(overs.start, window)
    pairs = np.unique(np.stack([key[now], overs.station[now]]), axis=1)
    stations = dict(zip(*np.unique(pairs[0][pairs[1] != UNKNOWN], return_counts=True), strict=True))
    common = {int(code) for code, many in stations.items() if many >= FEWEST}
    places = {code: divmod(code, len(activity.targets) + 1) for code in np.unique(key[now]).tolist()}
    rows: dict[tuple[int, int], list[np.ndarray]] = {}
    talked_of = (conversed.mode + 1) * (len(activity.targets) + 1) + conversed.target + 1
    for code, (mode, target) in places.items():
        name = (mode - 1, target - 1 if code in common else UNKNOWN)
        some = talk.conversations(overs.where(key == code))
        gaps = some.gap[in_window(some.gap_start, window)]
        mine = began & (talked_of == code)
        counts = np.array([mine.sum(), kerchunk[key == code].sum(), (mine & wide).sum()])
        before = rows.get(name)
        rows[name] = [gaps, counts] if before is None else [np.concatenate([before[0], gaps]), before[1] + counts]
    found = [
        (m, t, _talked(gaps, int(n[0]), int(n[1]), int(n[2]), timers))
        for (m, t), (gaps, n) in rows.items()
        if m >= 0 and n.any()
    ]
    return tuple(sorted(found, key=lambda row: (-row[2].conversations, row[0], row[1])))
