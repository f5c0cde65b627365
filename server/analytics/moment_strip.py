"""The half hour around a moment, by mode and slot: what its picture and its table are made from. Pure."""

from dataclasses import dataclass

import numpy as np

from server.analytics.activity import UNKNOWN, Activity, Ints
from server.analytics.moment import AROUND, sent_of
from server.analytics.moment_types import Sent, Span
from server.analytics.sharing import attempts, held, hold_spans
from shared import spans as sp
from shared.events import MODES, REASONS
from shared.timers import Timers

Tried = tuple[int, str | None]  #: instant, and the host's reason


@dataclass(frozen=True)
class Lane:
    """One mode and slot (None: not known, or none) within the half hour; nothing in it reaches beyond."""

    mode: str | None
    slot: int | None
    sent: tuple[Sent, ...]
    held: tuple[Span, ...]  #: by its mode
    attempts: tuple[Tried, ...]  #: of its mode, in its first lane
    begun: tuple[int, ...]  #: when overs of its mode began that have no end in the log, in its first lane


@dataclass(frozen=True)
class HalfHour:
    start_us: int
    end_us: int
    lanes: tuple[Lane, ...]  #: in the order of MODES and slots, the unknown mode last
    unseen: tuple[Span, ...]


def half_hour(activity: Activity, at: int, timers: Timers) -> HalfHour:
    """Modes that were on the air, held, were wanted, or began something within 15 min of `at`."""
    window = start, end = at - AROUND, at + AROUND
    holds = held(activity.sent, hold_spans(activity.sent, timers))
    near = activity.sent.where((activity.sent.start < end) & (activity.sent.end > start))
    transmissions = sent_of(near)
    tried, lost = attempts(activity.refusals), activity.unfinished
    called = (tried.t >= start) & (tried.t < end)
    began = (lost.start >= start) & (lost.start < end)
    codes = {*near.mode.tolist(), *tried.mode[called].tolist(), *lost.mode[began].tolist()}
    codes |= {mode for mode, spans in holds.items() if len(sp.clip(spans, *window))}
    lanes: list[Lane] = []
    for code in sorted(codes, key=lambda code: (code == UNKNOWN, code)):
        mode = None if code == UNKNOWN else MODES[code]
        mine = [one for one in transmissions if one.mode == mode]
        slots = sorted({one.slot for one in mine}, key=lambda slot: (slot is None, slot)) or [None]
        for place, slot in enumerate(slots):
            first = place == 0
            lanes.append(
                Lane(
                    mode,
                    slot,
                    tuple(one for one in mine if one.slot == slot),
                    _pairs(sp.clip(holds.get(code, sp.NONE), *window)),
                    _tried(tried.t, tried.reason, called & (tried.mode == code)) if first else (),
                    tuple(lost.start[began & (lost.mode == code)].tolist()) if first else (),
                )
            )
    return HalfHour(start, end, tuple(lanes), _pairs(sp.clip(activity.blind, *window)))


def _pairs(spans: sp.Spans) -> tuple[Span, ...]:
    return tuple((low, high) for low, high in spans.tolist())


def _tried(instants: Ints, reasons: Ints, mine: np.ndarray) -> tuple[Tried, ...]:
    rows = zip(instants[mine].tolist(), reasons[mine].tolist(), strict=True)
    return tuple((at, None if reason == UNKNOWN else REASONS[reason]) for at, reason in rows)
