"""The figures of each mode in a window."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from server.analytics import airtime, sharing, talk, timeouts, traffic
from server.analytics.activity import AIR, LINK, UNKNOWN, Ints, Overs
from server.analytics.figure_types import Mode, Slots
from server.analytics.window_activity import WindowActivity, seconds_within
from shared import spans as sp
from shared.events import MODES


def mode_figures(it: WindowActivity) -> dict[str, Mode]:
    """By mode word, every mode that the window tells of."""
    counts, told = _counts(it), _Told.by(it)
    return {
        MODES[mode]: _mode(it, mode, {name: int(count[mode]) for name, count in counts.items()}, told)
        for mode in np.flatnonzero(_present(it)[:-1]).tolist()
    }


def estimated_airtime(it: WindowActivity, mode: int | None = None) -> float | None:
    """How long pages of unknown length (of a mode code) were on the air, as it is estimated; None where that can't be
    told of any.
    """
    wanted = slice(None) if mode is None else it.pages.mode == mode
    if it.unmeasured[wanted].any() and not it.estimated[wanted].any():
        return None
    return seconds_within(sp.union(it.likely_pages[wanted]), it.window)


def known_codes(codes: Ints) -> Ints:
    """The distinct codes that are known."""
    return np.flatnonzero(np.bincount(codes + 1)[1:])


@dataclass(frozen=True)
class _Told:
    """How much the log tells of each mode: counts by mode code."""

    slotted: Ints  #: of what was sent, with a slot
    named: Ints  #: overs with a station
    endless: Ints  #: unfinished overs
    lengthless: Ints  #: on the air for nobody knows how long

    @classmethod
    def by(cls, it: WindowActivity) -> "_Told":
        endless = _by_mode(it.unfinished.mode[it.failed])
        return cls(
            slotted=_by_mode(it.sent.mode[it.inside & (it.sent.slot > 0)]),
            named=_by_mode(it.overs.mode[it.began & (it.overs.station != UNKNOWN)]),
            endless=endless,
            lengthless=_by_mode(it.pages.mode[it.unmeasured]) + endless,
        )


def _counts(it: WindowActivity) -> Mapping[str, Ints]:
    """By field of Mode: what each mask of overs, pages, attempts or shut-outs holds, by mode code, the unknown last."""
    overs, began, tried, shut = it.overs, it.began, it.attempts, it.shut_outs
    return {
        "pages": _by_mode(it.pages.mode[it.paged]),
        "pages_estimated": _by_mode(it.pages.mode[it.estimated]),
        "overs": _by_mode(overs.mode[began]),
        "air_overs": _by_mode(overs.mode[began & (overs.side == AIR)]),
        "link_overs": _by_mode(overs.mode[began & (overs.side == LINK)]),
        "stations": _stations_by_mode(overs.where(began)),
        "timeouts": _by_mode(overs.mode[began & timeouts.counted(overs)]),
        "timeouts_estimated": _by_mode(overs.mode[began & timeouts.inferred(overs, it.timers)]),
        "overruns": _by_mode(overs.mode[began & timeouts.overruns(overs, it.timers)]),
        "near_timeouts": _by_mode(overs.mode[began & timeouts.near(overs, it.timers)]),
        "timeout_lockouts": _by_mode(tried.mode[it.attempted & timeouts.lockouts(tried)]),
        "kerchunks": _by_mode(overs.mode[began & talk.kerchunks(overs, it.conversations)]),
        "shut_outs_suffered": _by_mode(shut.wanted[it.shut_out]),
        "shut_outs_caused": _by_mode(shut.holder[it.shut_out]),
        "doublings": _by_mode(overs.mode[began], sharing.doublings(overs)[began])
        + _by_mode(tried.mode[it.attempted & sharing.busy(tried)]),
    }


def _present(it: WindowActivity) -> Ints:
    """More than nothing for each mode code that the window tells of. A mode whose hold reaches into the window was
    seen too: its idle hold and whom it shut out are the window's.
    """
    told = (
        it.sent.mode[it.inside],
        it.pages.mode[it.paged],
        it.unfinished.mode[it.failed],
        it.attempts.mode[it.attempted],
        it.sent.mode[it.holding],
    )
    return _by_mode(np.concatenate(told))


def _mode(it: WindowActivity, mode: int, counts: dict[str, int], told: _Told) -> Mode:
    streams = it.streams
    own = (spans for (of, _), spans in streams.items() if of == mode)
    found = Mode(
        airtime_s=seconds_within(airtime.mode_airtime(streams, mode), it.window),
        slots=_slots(it, mode) if told.slotted[mode] else None,
        erlang=traffic.erlang(own, it.window, it.seen_us),
        idle_hold_s=seconds_within(it.idle_after(it.sent.mode == mode), it.window),
        shut_out_risk=float(it.shut_out_risk[mode]),
        pages_airtime_estimated_s=estimated_airtime(it, mode),
        **counts,
    )
    if told.lengthless[mode] and not found.airtime_s:  # all that it sent is of unknown length
        found = replace(found, airtime_s=None, erlang=None, idle_hold_s=None)
    if told.endless[mode] and not found.overs:
        found = replace(found, stations=None)
    return _as_told(found, named=bool(told.named[mode])) if found.overs else found


def _as_told(mode: Mode, *, named: bool) -> Mode:
    """A mode that has overs, without the counts of what the log does not tell: nobody knows them."""
    if not named:
        # Those refused as busy are told without names.
        mode = replace(mode, stations=None, doublings=mode.doublings or None)
    if not mode.air_overs and not mode.link_overs:
        mode = replace(mode, air_overs=None, link_overs=None, kerchunks=None)
    return mode


def _slots(it: WindowActivity, mode: int) -> Slots:
    first, second = (seconds_within(it.streams.get((mode, slot), sp.NONE), it.window) for slot in (1, 2))
    return Slots(first, second, seconds_within(airtime.both_slots(it.streams, mode), it.window))


def _by_mode(mode: Ints, weights: Ints | None = None) -> Ints:
    """How many of each mode code, shape (len(MODES) + 1,); those of no known mode stand last."""
    count = np.bincount(mode + 1, weights, minlength=len(MODES) + 1)
    return np.roll(count, -1).astype(np.int64)


def _stations_by_mode(overs: Overs) -> Ints:
    """Distinct known stations of each mode."""
    many = int(overs.station.max(initial=0)) + 1
    known = overs.where(overs.station != UNKNOWN)
    return _by_mode(known_codes((known.mode + 1) * many + known.station) // many - 1)
