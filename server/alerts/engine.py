"""The rules run over a stretch of time: one function for live watch and for replay."""

from collections.abc import Callable

import numpy as np

from server.alerts import rules, rules_over, rules_reception, rules_station
from server.alerts.history import NEVER, History
from server.alerts.incident import Incident, Open
from server.alerts.limits import MINUTE, Limits
from server.analytics.activity import Ints
from shared.zones import DAY

Rule = Callable[[History, Ints, Limits, Open], list[Incident]]
RULES: dict[str, Rule] = {
    "over-runs-on": rules_over.over_runs_on,
    "duty": rules.duty,
    "unlike-itself": rules.unlike_itself,
    "chatter": rules.chatter,
    "gone-silent": rules_station.gone_silent,
    "link-down": rules_station.link_down,
    "intake": rules_station.intake,
    "reception": rules_reception.reception,
}
TICK = MINUTE  # besides events; a line that comes is an instant of its own
WARM_UP = DAY  # before a replay's window, so that what was raised before it is not raised in it
MEMORY = 13 * 7 * DAY + DAY  # how far back the rules look, and an hour of duty before that


def instants(history: History, after: int, upto: int, limits: Limits) -> Ints:
    """The instants in (after, upto] at which the rules are asked: whole minutes, whenever a line came (of an over that
    is written at its end, at its end only) or an open over becomes too long, `upto`.
    """
    ticks = np.arange((after // TICK + 1) * TICK, upto + 1, TICK, dtype=np.int64)
    ends, due = history.told[history.told < NEVER], history.start + limits.timeout + limits.grace
    changes = [
        history.start[~history.whole],
        ends,
        due[(history.told > due) & ~history.whole],
        history.carriers,
        *(when for when, _ in history.links.values()),
    ]
    inside = [when[(when > after) & (when <= upto)] for when in changes]
    every = np.sort(np.concatenate([ticks, *inside, np.array([upto], dtype=np.int64)]))
    return np.asarray(every[np.concatenate([[True], every[1:] != every[:-1]])])


def run(
    history: History, after: int, upto: int, limits: Limits, open_now: Open, only: str | None = None
) -> list[Incident]:
    """What the rules find in (after, upto], knowing only what was written up to each instant of it.

    `open_now` says what stood raised at `after`. Rules that know the exact instant of an incident give it, also where
    that lies before `after` and is known only now; the caller keeps what it has already."""
    known = history.upto(upto)
    nows = instants(known, after, upto, limits)
    names = [only] if only else list(RULES)
    return [found for name in names for found in RULES[name](known, nows, limits, open_now)]


def replay(history: History, start: int, end: int, limits: Limits, only: str | None = None) -> list[Incident]:
    """The incidents that are raised in [start, end), oldest first. Time stands still at `end`: what clears later is not
    cleared.
    """
    found = run(history, start - WARM_UP, end, limits, {}, only)
    return sorted(
        (one for one in found if start <= one.raised < end), key=lambda one: (one.raised, one.rule, one.subject)
    )
