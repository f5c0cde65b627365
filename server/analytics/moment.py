"""What held the repeater at one instant, and what happened around it (docs/definitions.md, A moment). Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.activity import OTHER_MODE, UNKNOWN, Activity, Ints, Overs, timer_us
from server.analytics.airtime import longest_unfinished
from server.analytics.link_overs import stretches
from server.analytics.linking import Change, Key
from server.analytics.moment_types import Down, Holding, Moment, Refused, Sent, Span, TimedOut
from server.analytics.sharing import attempts, held, hold_spans, shut_outs
from server.analytics.timeouts import counted, inferred
from shared import spans as sp
from shared.events import MODES, REASONS, SIDES
from shared.incidents import Evident
from shared.timers import Timers
from shared.zones import DAY, SECOND

AROUND = 15 * 60 * SECOND  # on either side of a moment, whose happenings are told with it
LOOKED = DAY  # how far the activity reaches at least, and how far a free stretch is followed
NEVER = np.iinfo(np.int64).max
Kind = TypeVar("Kind")


def moment(
    activity: Activity,
    at: int,
    wanted: str | None,
    timers: Timers,
    zone: ZoneInfo,
    links: Mapping[Key, Sequence[Change]],
    incidents: Sequence[Evident],
) -> Moment:
    """What is known of the instant `at`, for a caller of the mode `wanted` if one is asked for. The activity reaches a
    day beyond it; `links` are the changes of each link in order of time; `incidents` may be more than those around it.
    """
    near = (at - AROUND, at + AROUND + 1)  # what lies just 15 min away is within 15 min
    known = sp.complement(activity.blind, *near)
    seen = not bool(sp.covers(activity.blind, np.array([at], dtype=np.int64))[0])
    each = hold_spans(activity.sent, timers)
    holds, doubts = held(activity.sent, each), _doubts(activity, each, timers)
    holding = _holding(holds, at, wanted) if seen else None
    doubt = doubts.at(at, wanted) if seen and (holding is None or holding.mode == wanted) else None
    return Moment(
        at_us=at,
        zone=zone,
        wanted=wanted,
        seen=seen,
        unseen=None if seen else _span_at(activity.blind, at),
        near_seen_s=sp.length(sp.clip(known, near[0], near[1] - 1)) / SECOND,
        on_air=_on_air(activity, at) if seen else None,
        holding=holding,
        free=_free(activity, holds, doubts, at) if seen and holding is None and doubt is None else None,
        doubt=doubt,
        wait_s=_wait(holding, at, wanted, doubt) if seen and wanted is not None else None,
        attempts=_known(known, _attempts(activity, holds, near)),
        timeouts=_known(known, _timeouts(activity.overs, timers, near)),
        links_down=_known(known, _links_down(links, known)),
        incidents=_known(known, tuple(one for one in incidents if _falls_in(one, near))),
    )


def _known(seen: sp.Spans, found: tuple[Kind, ...]) -> tuple[Kind, ...] | None:
    """None where nothing was found and nothing was seen."""
    return found if found or len(seen) else None


def _span_at(spans: sp.Spans, at: int) -> Span | None:
    place = int(sp.locate(spans, np.array([at], dtype=np.int64))[0])
    return None if place < 0 else (int(spans[place, 0]), int(spans[place, 1]))


def sent_of(overs: Overs) -> tuple[Sent, ...]:
    """Transmissions in order of start, those that start together in the order of MODES and slots."""
    order = np.lexsort((overs.slot, overs.mode, overs.start))
    rows = zip(
        *(getattr(overs, name)[order].tolist() for name in ("mode", "slot", "side", "start", "end")), strict=True
    )
    return tuple(
        Sent(
            None if mode == UNKNOWN else MODES[mode], slot or None, None if side == UNKNOWN else SIDES[side], start, end
        )
        for mode, slot, side, start, end in rows
    )


def _on_air(activity: Activity, at: int) -> tuple[Sent, ...]:
    sent = activity.sent
    return sent_of(sent.where((sent.start <= at) & (at < sent.end)))


def _holding(holds: Mapping[int, sp.Spans], at: int, wanted: str | None) -> Holding | None:
    """What held the repeater for a caller: the mode other than theirs whose unbroken hold began first (then the first
    of MODES), or else their own.
    """
    found = [(*span, mode) for mode, spans in holds.items() if (span := _span_at(spans, at)) is not None]
    found.sort(key=lambda one: (MODES[one[2]] == wanted, one[0], one[2]))
    return Holding(MODES[found[0][2]], found[0][0], found[0][1]) if found else None


def _wait(holding: Holding | None, at: int, wanted: str, doubt: int | None) -> float | None:
    if holding is not None and holding.mode != wanted:
        return (holding.end_us - at) / SECOND
    return 0.0 if doubt is None else None


@dataclass(frozen=True)
class Doubts:
    """What may have held the repeater, which the log can't tell: overs whose end it lacks (for the time-out at most,
    and their hold), pages of unknown length (for their hold at least), overs of an unknown mode and their hold.
    """

    start: Ints
    end: Ints
    mode: Ints

    def at(self, instant: int, wanted: str | None) -> int | None:
        """When the latest of them began that may have kept a caller out then; None where none may."""
        own = UNKNOWN - 1 if wanted is None else MODES.index(wanted)
        maybe = self.start[(self.start <= instant) & (instant < self.end) & (self.mode != own)]
        return int(maybe.max()) if len(maybe) else None


def _doubts(activity: Activity, holds: sp.Spans, timers: Timers) -> Doubts:
    lost, pages, sent = activity.unfinished, activity.pages, activity.sent
    lengthless, nameless = pages.end < pages.start, sent.mode == UNKNOWN
    paged, paged_mode = pages.start[lengthless], pages.mode[lengthless]
    lost_until = lost.start + longest_unfinished(lost, timers) + timer_us(timers.hold_s, lost.mode)
    return Doubts(
        np.concatenate([lost.start, paged, sent.start[nameless]]),
        np.concatenate([lost_until, paged + timer_us(timers.hold_s, paged_mode), holds[nameless][:, 1]]),
        np.concatenate([lost.mode, paged_mode, sent.mode[nameless]]),
    )


def _free(activity: Activity, holds: Mapping[int, sp.Spans], doubts: Doubts, at: int) -> Span | None:
    """The unbroken stretch around `at` that was seen, and in which nothing held and nothing may have."""
    maybe = sp.spans(doubts.start, doubts.end)
    taken = sp.union(activity.on_air, activity.blind, maybe, *holds.values())
    return _span_at(sp.complement(taken, at - LOOKED, at + LOOKED), at)


def _attempts(activity: Activity, holds: dict[int, sp.Spans], near: Span) -> tuple[Refused, ...]:
    every = attempts(activity.refusals)
    inside = _inside(every.t, near)
    tried = every.where(inside)
    # All asked as if the host had named another mode, so that each has the holder of its instant.
    asked = shut_outs(replace(tried, reason=np.full_like(tried.t, OTHER_MODE)), holds)
    columns = (tried.t, tried.mode, tried.reason, asked.wait, asked.holder)
    rows = zip(*(column.tolist() for column in columns), strict=True)
    return tuple(
        Refused(
            at,
            None if mode == UNKNOWN else MODES[mode],
            None if reason == UNKNOWN else REASONS[reason],
            wait / SECOND if (waits := wait >= 0 and reason in (UNKNOWN, OTHER_MODE)) else None,
            MODES[holder] if waits else None,
        )
        for at, mode, reason, wait, holder in rows
    )


def _timeouts(overs: Overs, timers: Timers, near: Span) -> tuple[TimedOut, ...]:
    """Those whose end, at which the host cut them, lies near."""
    ended = _inside(overs.end, near)
    logged = [TimedOut(one, estimated=False) for one in sent_of(overs.where(ended & counted(overs)))]
    by_length = [TimedOut(one, estimated=True) for one in sent_of(overs.where(ended & inferred(overs, timers)))]
    return tuple(sorted(logged + by_length, key=lambda one: one.over.end_us))


def _inside(instants: Ints, near: Span) -> npt.NDArray[np.bool_]:
    return np.asarray((instants >= near[0]) & (instants < near[1]))


def _links_down(links: Mapping[Key, Sequence[Change]], known: sp.Spans) -> tuple[Down, ...]:
    """Times down of which a part lies in known time near the moment, flaps too."""
    found = [
        Down(key, since, None if to == NEVER else to)
        for key, changes in links.items()
        for since, to, up in stretches(changes, NEVER)
        if not up and len(sp.intersection(sp.spans([since], [to]), known))
    ]
    return tuple(sorted(found, key=lambda one: (one.start_us, tuple(part or "" for part in one.key))))


def _falls_in(one: Evident, near: Span) -> bool:
    began = one.raised if one.began is None else one.began
    return began < near[1] and (one.cleared is None or one.cleared >= near[0])
