"""The replay as a page: all that its template gets."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from server.analytics.intervals import bootstrap_count
from server.analytics.replay import demand, replay
from server.analytics.replay_curves import Curve, Point, crossed, cuts, modes_of
from server.analytics.replay_curves import curve as hold_curve
from server.analytics.replay_result import replay_result
from server.analytics.suggestion import suggest
from server.telling import unseen, words
from server.telling.caution import TIMERS
from server.telling.modes import mode_name
from server.telling.parts import Fact, Label, Table
from server.telling.replay_mail import mail_paragraph
from server.telling.replay_tables import beside_table, counted_facts, curve_table, cut_table, simulated_facts
from server.telling.replay_texts import CROSSED, assumptions
from server.telling.suggestion import suggestion_reasons, suggestion_sentence
from server.web.frame import Frame
from server.web.sharing.charts import CurveChart, curve_chart
from server.web.sharing.window import Stretch
from server.web.shell import Link, Shell
from server.web.source import Source
from shared.events import MODE_LABELS, MODES
from shared.numbers import grouped
from shared.timers import Timers

LONGEST_S = 3600.0
Tell = Callable[[float], str]
Band = Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Field:
    """One number of the form."""

    name: str
    label: str
    value: str  #: as given, or empty
    now: str  #: the setting in force


@dataclass(frozen=True)
class ModeCurves:
    """The holds of one mode."""

    label: Label
    charts: tuple[CurveChart, ...]
    table: Table


@dataclass(frozen=True)
class ReplayView:
    """What sharing_replay.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    dates: str  #: the days looked at
    first: str  #: first day, for the form
    last: str  #: last day, for the form
    action: str  #: where the form goes
    fields: tuple[Field, ...]  #: holds and time-out of the form
    suggestion: str  #: the sentence
    reasons: tuple[str, ...]  #: its reasons
    beside: Table | None  #: now and then; None where the form names nothing
    counted: tuple[Fact, ...]  #: what is counted in the log
    simulated: tuple[Fact, ...]  #: what is simulated
    mail: str  #: a paragraph to paste into a mail
    curves: tuple[ModeCurves, ...]  #: holds from 0 to 60 s, mode by mode
    cuts: Table  #: time-outs
    assumptions: tuple[str, ...]  #: what the model takes for granted
    back: Link  #: to the Sharing page
    changes: Link  #: where a confirmed change is entered
    caution: str  #: what comes before any change


def replay_view(
    source: Source,
    stretch: Stretch,
    given: Mapping[str, float],
    timeout_s: float | None,
    curves: tuple[Curve, ...],
    frame: Frame,
) -> ReplayView:
    """The page of these days; `given` is holds by mode word, seconds; `curves` are those of hold_curves."""
    station, window = source.station(), stretch.window
    timers, activity = station.timers, source.activity(*window)
    found = replay_result(activity, window, timers, station.zone, given, timeout_s)
    view = ReplayView(
        shell=frame.shell("Other timers", "/sharing"),
        dates=stretch.words,
        first=str(stretch.first),
        last=str(stretch.last),
        action=frame.to("/sharing/replay"),
        fields=_fields(curves, timers, given, timeout_s),
        suggestion=unseen.DAYS,
        reasons=(unseen.OTHERS,),
        beside=None,
        counted=(),
        simulated=(),
        mail="",
        curves=(),
        cuts=cut_table(cuts(demand(activity, window, timers)), timers.timeout_s, seen=found.window.seen),
        assumptions=(),
        back=frame.link("Back to Sharing", f"/sharing?{stretch.query}"),
        changes=frame.link("Enter a change that was made", "/sharing/changes"),
        caution=TIMERS,
    )
    if found.compared is None:
        return view
    changed = crossed([change.at_us for change in source.timer_changes()], window)
    asked = bool(given) or timeout_s is not None
    advice = suggest(curves)
    return replace(
        view,
        suggestion=suggestion_sentence(advice),
        reasons=suggestion_reasons(advice),
        beside=beside_table(found.compared) if asked else None,
        counted=counted_facts(found.compared),
        simulated=simulated_facts(found.compared),
        mail=mail_paragraph(found, found.compared, advice, stretch.words, frame.repeater, asked),
        curves=tuple(map(_mode_curves, curves)),
        assumptions=(*assumptions(found), *([CROSSED] if changed else [])),
    )


def hold_curves(source: Source, stretch: Stretch) -> tuple[Curve, ...]:
    """The holds of every mode heard in these days: what takes longest on the page."""
    station, activity = source.station(), source.activity(*stretch.window)
    asked = demand(activity, stretch.window, station.timers)
    now = replay(asked, station.timers.hold_s, station.timers.timeout_s)
    return tuple(hold_curve(asked, now, activity, station.zone, mode) for mode in modes_of(asked))


def _fields(
    curves: tuple[Curve, ...], timers: Timers, given: Mapping[str, float], timeout_s: float | None
) -> tuple[Field, ...]:
    holds = tuple(
        Field(
            f"hold_{MODES[one.mode]}", f"Hold of {MODE_LABELS[MODES[one.mode]]}, s",
            f"{given[MODES[one.mode]]:g}" if MODES[one.mode] in given else "", f"{one.in_force.hold_s:g}",
        )
        for one in curves
    )  # fmt: skip
    return (
        *holds,
        Field("timeout", "Time-out, s", "" if timeout_s is None else f"{timeout_s:g}", f"{timers.timeout_s:g}"),
    )


def _mode_curves(curve: Curve) -> ModeCurves:
    name = MODE_LABELS[MODES[curve.mode]]
    ends = [bootstrap_count(point.shut_outs) for point in curve.points]
    band = [(end.low, end.high) for end in ends if end is not None]

    def drawn(
        says: str, of: Callable[[Point], float], tell: Tell, around: Band = (), *, time: bool = False
    ) -> CurveChart:
        holds, values = [point.hold_s for point in curve.points], [of(point) for point in curve.points]
        return curve_chart(says, holds, values, around, curve.in_force.hold_s, tell, time)

    shut_outs = f"Shut-outs of all modes over the hold of {name}, with the 95 % interval"
    charts = (
        drawn(shut_outs, lambda point: float(point.shut_outs.sum()), grouped, band),
        drawn(f"Idle hold over the hold of {name}", lambda point: float(point.idle_s.sum()), words.duration, time=True),
        drawn(f"Turnaround gaps of {name} longer than its hold", lambda point: float(point.own_open), grouped),
    )
    return ModeCurves(mode_name(MODES[curve.mode]), charts, curve_table(curve, ends))
