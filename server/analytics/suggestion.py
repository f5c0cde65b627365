"""Which hold the data support, and why, or that they support no change (docs/definitions.md, Suggestion)."""

from dataclasses import dataclass

import numpy as np

from server.analytics.best_of_many import stand_out
from server.analytics.intervals import Interval, bootstrap
from server.analytics.replay_curves import Curve, Point
from server.analytics.replay_days import Floats
from shared.events import MODE_LABELS, MODES
from shared.numbers import grouped

LEAST_DAYS = 14  # fewer hold no two weekends
LEAST_GAIN = 5  # fewer shut-outs than this are not worth a change of habits
# of a mode's turnaround gaps that may lie open (our own choice): nineteen replies of twenty find the repeater theirs
OPEN_SHARE = 0.05
LEAST_GAPS = (
    50  # turnaround gaps that a mode must show before its hold is shortened: else nobody knows whom that would cut off
)
NO_CHANGE = "No change is supported by this data."


@dataclass(frozen=True)
class Suggestion:
    """The sentence, its reasons, and the hold it names (None: no change)."""

    says: str
    reasons: tuple[str, ...]
    mode: str | None = None
    hold_s: float | None = None


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
        return Suggestion(
            NO_CHANGE, (f"The window has {days} days that were seen, and a change must rest on {LEAST_DAYS}.",)
        )
    tried = [(curve, point) for curve in curves for point in curve.points if point is not curve.in_force]
    gains = np.array([price(curve.in_force) - price(point) for curve, point in tried]).reshape(len(tried), days)
    found = [
        (saved, curve, point, interval)
        for (curve, point), saved, beyond_chance in zip(tried, gains, stand_out(gains), strict=True)
        if beyond_chance
        and saved.sum() >= LEAST_GAIN
        and saved[::2].sum() > 0
        and saved[1::2].sum() > 0
        and stays_closed(curve, point)
        and (interval := bootstrap(saved)) is not None
        and interval.low > 0
    ]
    if not found:
        return Suggestion(NO_CHANGE, why_not(curves))
    best = max(found, key=lambda one: (one[0].sum(), -abs(one[2].hold_s - one[1].in_force.hold_s)))
    return _told(*best)


def stays_closed(curve: Curve, point: Point) -> bool:
    """Whether a hold leaves few enough of the mode's turnaround gaps open, as far as there are enough of them to
    tell."""
    if point.hold_s < curve.in_force.hold_s and curve.gaps < LEAST_GAPS:
        return False
    return point.own_open <= max(OPEN_SHARE * curve.gaps, curve.in_force.own_open)


def why_not(curves: tuple[Curve, ...]) -> tuple[str, ...]:
    """What stood against the change that would have saved most."""
    ranked = [
        (float((price(curve.in_force) - price(point)).sum()), curve, point)
        for curve in curves
        for point in curve.points
    ]
    saved, curve, point = max(ranked, key=lambda one: one[0])
    if saved < LEAST_GAIN:
        return (f"No hold from 0 to 60 s of any one mode would have saved {LEAST_GAIN} shut-outs or more.",)
    way = "Cutting" if point.hold_s < curve.in_force.hold_s else "Lengthening"
    change = (
        f"{way} {_label(curve)}'s hold from {curve.in_force.hold_s:g} s to {point.hold_s:g} s would have saved "
        f"{grouped(saved)} shut-outs and break-ins"
    )
    if not stays_closed(curve, point) and curve.gaps < LEAST_GAPS:
        return (
            f"{change}, but the log shows only {grouped(curve.gaps)} turnaround gaps in it: too few to tell whom a "
            "shorter hold would cut off.",
        )
    if not stays_closed(curve, point):
        return (
            f"{change}, but another mode could have broken in at {_of_all(point.own_open, curve.gaps)} pauses between "
            "speakers.",
        )
    return (
        f"{change}, but the days differ too much to tell it from chance: the best of many holds always looks good.",
    )


def _of_all(part: int, whole: int) -> str:
    return f"all {grouped(whole)}" if part == whole else f"{grouped(part)} of {grouped(whole)}"


def _told(saved: Floats, curve: Curve, point: Point, interval: Interval) -> Suggestion:
    now, hold, mode = curve.in_force, point.hold_s, _label(curve)
    idle = float(now.idle_s.sum() - point.idle_s.sum())
    reasons = (
        f"It would have saved {grouped(saved.sum())} shut-outs and break-ins in {len(saved)} days "
        f"(95 %: {grouped(np.floor(interval.low))} to {grouped(np.ceil(interval.high))}).",
        f"Counted: {grouped(point.spared)} refused calls would have found the repeater free. Simulated: "
        f"{grouped(point.displaced)} overs received "
        f"by radio and {grouped(point.unheard.sum())} others would have been displaced.",
        f"Idle hold would have been {grouped(abs(idle) / 3600, 1)} hours {'less' if idle >= 0 else 'more'}.",
        f"The price: {grouped(point.own_open)} of {grouped(curve.gaps)} turnaround gaps in {mode} longer than the "
        f"hold, {grouped(now.own_open)} now; "
        f"{grouped(point.break_ins.sum())} break-ins, {grouped(now.break_ins.sum())} now.",
    )
    way = "Shorten" if hold < now.hold_s else "Lengthen"
    return Suggestion(
        f"{way} the hold of {mode} from {now.hold_s:g} s to {hold:g} s.", reasons, MODES[curve.mode], hold
    )


def _label(curve: Curve) -> str:
    return MODE_LABELS[MODES[curve.mode]]
