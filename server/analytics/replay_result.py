"""What a replay comes to, beside what is; `as_json` is the shape that docs/contract.md promises."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics.activity import Activity, Window
from server.analytics.figure_types import Json, Stretch
from server.analytics.intervals import Interval, bootstrap, bootstrap_count
from server.analytics.replay import Demand, Outcome, demand, replay
from server.analytics.replay_days import counts_by_day, day_edges, days_seen, seconds_by_day
from server.analytics.suggestion import Suggestion
from shared import spans as sp
from shared.events import MODES
from shared.timers import Timers
from shared.zones import SECOND


@dataclass(frozen=True)
class Sums:
    """The figures of one outcome, under the timers in force or under others."""

    shut_outs: int
    idle_hold_s: float
    open_gaps: int
    break_ins: int
    overs_cut: int
    seconds_cut: float


@dataclass(frozen=True)
class Ends:
    """95 % intervals of what it would have been; None where too few days were seen."""

    shut_outs: Interval | None
    idle_hold_s: Interval | None


@dataclass(frozen=True)
class Effects:
    """Counted in the log: attempts that stay, are spared, or (unexplained before) meet a hold now. Simulated: overs
    that would have been displaced, by side.
    """

    attempts_kept: int
    attempts_spared: int
    attempts_new: int
    displaced_air_overs: int
    displaced_link_overs: int
    displaced_unknown_side_overs: int
    idle_hold_freed_s: float


@dataclass(frozen=True)
class Compared:
    """What is, and what would have been."""

    now: Sums
    then: Sums
    interval: Ends
    unexplained_attempts: int
    effects: Effects


@dataclass(frozen=True)
class ReplayTexts:
    """The sentences that the JSON of a replay holds."""

    assumptions: tuple[str, ...]
    suggestion: str = ""
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True)
class Replay:
    """One window under other timers."""

    window: Stretch
    hold_s: Mapping[str, float]  #: as it was asked for: by mode word, or `default`
    timeout_s: float
    displaced_unsided: int  #: overs without a side in the log, in no count of shut-outs
    displaced_pages: int  #: in no count of overs
    compared: Compared | None  #: None where nothing of the window was seen
    suggestion: Suggestion | None = None

    def as_json(self, texts: ReplayTexts) -> Json:
        """Just what `airtally replay --json` prints; the texts are server.telling's."""
        it = self.compared
        found: Json = {
            "window": self.window.as_json(),
            "hold_s": dict(self.hold_s),
            "timeout_s": self.timeout_s,
            "now": asdict(it.now) if it else _unknown(Sums),
            "then": asdict(it.then) if it else _unknown(Sums),
            "interval": {"shut_outs": _pair(it.interval.shut_outs), "idle_hold_s": _pair(it.interval.idle_hold_s)}
            if it
            else _unknown(Ends),
            "displaced_link_overs": it.effects.displaced_link_overs if it else None,
            "unexplained_attempts": it.unexplained_attempts if it else None,
            "effects": asdict(it.effects) if it else _unknown(Effects),
            "assumptions": list(texts.assumptions),
        }
        if self.suggestion is not None:
            change = self.suggestion.change
            found["suggestion"] = {
                "says": texts.suggestion,
                "reasons": list(texts.reasons),
                "mode": change and change.mode,
                "hold_s": change and change.to_s,
            }
        return found


def _unknown(of: type[Any]) -> Json:
    return dict.fromkeys(field.name for field in fields(of))


def _pair(interval: Interval | None) -> list[float] | None:
    return None if interval is None else [interval.low, interval.high]


def chosen_holds(timers: Timers, given: Mapping[str, float]) -> tuple[float, ...]:
    """Seconds by mode code, the default last, as the settings name them. A `default` is for every mode not named;
    without one, modes not named keep the hold in force.
    """
    rest = (given["default"],) * len(timers.hold_s) if "default" in given else timers.hold_s
    return (*(given.get(mode, rest[code]) for code, mode in enumerate(MODES)), rest[-1])


def named_holds(hold_s: tuple[float, ...]) -> dict[str, float]:
    """The other way round, as short as it can be said: modes that differ from the default, then the default."""
    return {mode: hold_s[code] for code, mode in enumerate(MODES) if hold_s[code] != hold_s[-1]} | {
        "default": hold_s[-1]
    }


def replay_result(
    activity: Activity,
    window: Window,
    timers: Timers,
    zone: ZoneInfo,
    given: Mapping[str, float],
    timeout_s: float | None = None,
) -> Replay:
    """The replay of [from, to). The activity reaches MARGIN beyond the window; `given` is by mode word or `default`,
    seconds.
    """
    asked = demand(activity, window, timers)
    hold_s = chosen_holds(timers, given)
    timeout_s = timers.timeout_s if timeout_s is None else timeout_s
    now, then = replay(asked, timers.hold_s, timers.timeout_s), replay(asked, hold_s, timeout_s)
    shut_outs, idle = intervals(then, asked, activity.blind, zone)
    blind = sp.clip(activity.blind, *window)
    named = {mode: float(seconds) for mode, seconds in given.items()} if "default" in given else named_holds(hold_s)
    compared = Compared(sums(now), sums(then), Ends(shut_outs, idle), int((~now.kept).sum()), effects(now, then))
    stretch = Stretch(*window, zone, sp.length(blind) / SECOND)
    return Replay(
        stretch, named, float(timeout_s), len(then.displaced_unknown), len(then.displaced_pages),
        compared if stretch.seen else None,
    )  # fmt: skip


def sums(outcome: Outcome) -> Sums:
    """The figures of one outcome."""
    return Sums(
        shut_outs=len(outcome.shut_outs),
        idle_hold_s=sp.length(outcome.idle) / SECOND,
        open_gaps=len(outcome.open_gaps),
        break_ins=len(outcome.break_ins),
        overs_cut=len(outcome.cut),
        seconds_cut=int(outcome.cut_by.sum()) / SECOND,
    )


def effects(now: Outcome, then: Outcome) -> Effects:
    """What the other timers do to attempts and overs."""
    return Effects(
        attempts_kept=int((now.kept & then.kept).sum()),
        attempts_spared=int((now.kept & ~then.kept).sum()),
        attempts_new=int((~now.kept & then.kept).sum()),
        displaced_air_overs=len(then.displaced_air),
        displaced_link_overs=len(then.displaced_link),
        displaced_unknown_side_overs=len(then.displaced_unknown),
        idle_hold_freed_s=(sp.length(now.idle) - sp.length(then.idle)) / SECOND,
    )


def intervals(
    outcome: Outcome, asked: Demand, blind: sp.Spans, zone: ZoneInfo
) -> tuple[Interval | None, Interval | None]:
    """95 % intervals of the shut-outs and of the idle hold in seconds; None where the window touches fewer than two
    local days that were seen. They always hold the figure itself.
    """
    edges = day_edges(asked.window, zone)
    seen = days_seen(edges, blind)
    shut_outs = bootstrap_count(counts_by_day(outcome.shut_outs, edges)[seen])
    idle = bootstrap(seconds_by_day(outcome.idle, edges)[seen])
    total = sp.length(outcome.idle) / SECOND
    if idle is not None:
        idle = Interval(min(idle.low, total), max(idle.high, total))
    return _whole(shut_outs), idle


def _whole(interval: Interval | None) -> Interval | None:
    """Counts are whole: outwards."""
    return None if interval is None else Interval(int(np.floor(interval.low)), int(np.ceil(interval.high)))
