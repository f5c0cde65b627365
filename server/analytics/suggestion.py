"""Which hold the data support, and why, or that they support no change (docs/definitions.md, Suggestion)."""

from dataclasses import dataclass

import numpy as np

from server.analytics.best_of_many import stand_out
from server.analytics.intervals import Interval, bootstrap
from server.analytics.replay_curves import Curve, Point
from server.analytics.replay_days import Floats
from shared.events import MODES

LEAST_DAYS = 14  # fewer hold no two weekends
LEAST_GAIN = 5  # fewer shut-outs than this are not worth a change of habits
# of a mode's turnaround gaps that may lie open (our own choice): nineteen replies of twenty find the repeater theirs
OPEN_SHARE = 0.05
LEAST_GAPS = (
    50  # turnaround gaps that a mode must show before its hold is shortened: else nobody knows whom that would cut off
)


@dataclass(frozen=True)
class HoldChange:
    """One mode's hold changed to another."""

    mode: str
    from_s: float
    to_s: float
    saved: float  #: of the price, over all days


@dataclass(frozen=True)
class FewDays:
    """Too few days were seen for any change."""

    days: int


@dataclass(frozen=True)
class NothingSaved:
    """No hold would have saved LEAST_GAIN of the price."""


@dataclass(frozen=True)
class FewGaps:
    """The log shows too few of the mode's turnaround gaps to shorten its hold."""

    best: HoldChange
    gaps: int


@dataclass(frozen=True)
class OpenPauses:
    """Too many of the mode's turnaround gaps would lie open."""

    best: HoldChange
    own_open: int
    gaps: int


@dataclass(frozen=True)
class ByChance:
    """The days differ too much to tell what was saved from chance."""

    best: HoldChange


@dataclass(frozen=True)
class Supported:
    """A change that the data support, and what it would have meant in these days."""

    change: HoldChange
    days: int
    interval: Interval  #: 95 %, of what it saves
    spared: int
    displaced_air: int
    displaced_others: float
    idle_freed_s: float  #: negative: idle hold more
    gaps: int  #: turnaround gaps of the mode
    own_open: int  #: of them, longer than the hold
    own_open_now: int
    break_ins: float
    break_ins_now: float


@dataclass(frozen=True)
class Suggestion:
    """A change, or what stands against any."""

    reason: Supported | FewDays | NothingSaved | FewGaps | OpenPauses | ByChance

    @property
    def change(self) -> HoldChange | None:
        """What is suggested; None: no change."""
        return self.reason.change if isinstance(self.reason, Supported) else None


def price(point: Point) -> Floats:
    """Who pays for a hold, day by day: shut-outs, displaced overs of other sides and pages, and
    break-ins.
    """
    return point.shut_outs + point.unheard + point.break_ins


def suggest(curves: tuple[Curve, ...]) -> Suggestion:
    """The one change of one mode's hold that spares most, if the days agree on it.

    A change must save LEAST_GAIN of the price, more than the best of as many holds would by chance
    (server.analytics.best_of_many), and
    something in the even days and in the odd days each. It may leave no more than OPEN_SHARE of
    the mode's turnaround gaps open, or no more than now, and a shorter hold needs LEAST_GAPS gaps to judge by. Holds
    that save the same: the one nearest to the hold in force.
    """
    days = len(curves[0].in_force.shut_outs) if curves else 0
    if days < LEAST_DAYS:
        return Suggestion(FewDays(days))
    tried = [(curve, point) for curve in curves for point in curve.points if point is not curve.in_force]
    gains = np.array([price(curve.in_force) - price(point) for curve, point in tried]).reshape(len(tried), days)
    supported = [
        found
        for (curve, point), saved, beyond_chance in zip(tried, gains, stand_out(gains), strict=True)
        if beyond_chance and (found := _supported(curve, point, saved)) is not None
    ]
    if not supported:
        return Suggestion(against(curves))
    return Suggestion(max(supported, key=lambda it: (it.change.saved, -abs(it.change.to_s - it.change.from_s))))


def _supported(curve: Curve, point: Point, saved: Floats) -> Supported | None:
    """What speaks for a hold that saves so much on each day; None where it is too little, on too few days, or leaves
    too many gaps open.
    """
    in_both_halves = saved[::2].sum() > 0 and saved[1::2].sum() > 0
    if saved.sum() < LEAST_GAIN or not in_both_halves or not stays_closed(curve, point):
        return None
    interval = bootstrap(saved)
    if interval is None or interval.low <= 0:
        return None
    now = curve.in_force
    return Supported(
        change=_change(curve, point, float(saved.sum())),
        days=len(saved),
        interval=interval,
        spared=point.spared,
        displaced_air=point.displaced,
        displaced_others=float(point.unheard.sum()),
        idle_freed_s=float(now.idle_s.sum() - point.idle_s.sum()),
        gaps=curve.gaps,
        own_open=point.own_open,
        own_open_now=now.own_open,
        break_ins=float(point.break_ins.sum()),
        break_ins_now=float(now.break_ins.sum()),
    )


def _change(curve: Curve, point: Point, saved: float) -> HoldChange:
    return HoldChange(MODES[curve.mode], curve.in_force.hold_s, point.hold_s, saved)


def stays_closed(curve: Curve, point: Point) -> bool:
    """Whether a hold leaves few enough of the mode's turnaround gaps open, as far as there are enough of them to
    tell."""
    if point.hold_s < curve.in_force.hold_s and curve.gaps < LEAST_GAPS:
        return False
    return point.own_open <= max(OPEN_SHARE * curve.gaps, curve.in_force.own_open)


def against(curves: tuple[Curve, ...]) -> NothingSaved | FewGaps | OpenPauses | ByChance:
    """What stood against the change that would have saved most."""
    ranked = [
        (float((price(curve.in_force) - price(point)).sum()), curve, point)
        for curve in curves
        for point in curve.points
    ]
    saved, curve, point = max(ranked, key=lambda candidate: candidate[0])
    if saved < LEAST_GAIN:
        return NothingSaved()
    best = _change(curve, point, saved)
    if stays_closed(curve, point):
        return ByChance(best)
    return FewGaps(best, curve.gaps) if curve.gaps < LEAST_GAPS else OpenPauses(best, point.own_open, curve.gaps)
