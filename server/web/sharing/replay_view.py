"""The replay as a page: all that its template gets."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from server.analytics.activity import Activity
from server.analytics.intervals import Interval, bootstrap_count
from server.analytics.replay import demand, replay
from server.analytics.replay_curves import Curve, crossed, cuts, modes_of
from server.analytics.replay_curves import curve as hold_curve
from server.analytics.replay_result import Compared, Replay, Sums, replay_result
from server.analytics.suggestion import Suggestion, suggest
from server.telling import unseen, words
from server.telling.caution import TIMERS
from server.telling.modes import mode_name
from server.telling.parts import Fact, Label, Row, Table
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
CROSSED = "A change of timers lies in these days: the settings of the station file are taken for all of them."


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
    compared = found.compared
    advice = suggest(curves) if compared else Suggestion(unseen.DAYS, (unseen.OTHERS,))
    asked = bool(given) or timeout_s is not None
    changed = crossed([change.at_us for change in source.timer_changes()], window)
    return ReplayView(
        shell=frame.shell("Other timers", "/sharing"),
        dates=stretch.words,
        first=str(stretch.first),
        last=str(stretch.last),
        action=frame.to("/sharing/replay"),
        fields=_fields(curves, timers, given, timeout_s),
        suggestion=advice.says,
        reasons=advice.reasons,
        beside=_beside(compared) if asked and compared else None,
        counted=_counted(compared) if compared else (),
        simulated=_simulated(compared) if compared else (),
        mail=mail_paragraph(found, compared, advice, stretch, frame.repeater, asked) if compared else "",
        curves=tuple(_mode_curves(one) for one in curves) if compared else (),
        cuts=_cut_table(activity, window, timers, seen=found.window.seen),
        assumptions=(*found.assumptions, *([CROSSED] if changed else [])) if compared else (),
        back=frame.link("Back to Sharing", f"/sharing?{stretch.query}"),
        changes=frame.link("Enter a change that was made", "/sharing/changes"),
        caution=TIMERS,
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


def _beside(compared: Compared) -> Table:
    now, then, interval = compared.now, compared.then, compared.interval

    def row(text: str, figure: str, of: Callable[[Sums], float], tell: Tell, ends: Interval | None = None) -> Row:
        span = "" if ends is None else f"{tell(ends.low)} to {tell(ends.high)}"
        return Row(Label(text, figure), (tell(of(now)), tell(of(then)), span))

    rows = (
        row("Shut-outs", "shut-outs then", lambda it: it.shut_outs, words.whole_number, interval.shut_outs),
        row("Idle hold", "idle hold then", lambda it: it.idle_hold_s, words.duration, interval.idle_hold_s),
        row("Open gaps", "open gaps", lambda it: it.open_gaps, words.whole_number),
        row("Break-ins", "break-ins", lambda it: it.break_ins, words.whole_number),
        row("Overs cut", "overs cut", lambda it: it.overs_cut, words.whole_number),
        row("Time cut", "overs cut", lambda it: it.seconds_cut, words.duration),
    )
    return Table(
        "With the timers asked about", (Label("Figure"), Label("Now"), Label("Then"), Label("95 %", "bootstrap")), rows
    )


def _counted(compared: Compared) -> tuple[Fact, ...]:
    effects = compared.effects
    return (
        Fact(
            Label("Calls spared", "spared"),
            words.whole_number(effects.attempts_spared),
            "refused in the log; would have found it free",
        ),
        Fact(Label("Calls that stay shut out", "shut-outs then"), words.whole_number(effects.attempts_kept)),
        Fact(
            Label("Unexplained calls", "attempt"),
            words.whole_number(compared.unexplained_attempts),
            "refused, though no hold in force explains it; a replay has one holder at a time, so shut-outs may be "
            "fewer here than by pair",
        ),
    )


def _simulated(compared: Compared) -> tuple[Fact, ...]:
    effects = compared.effects
    freed = effects.idle_hold_freed_s
    return (
        Fact(
            Label("Displaced, by radio", "displaced"),
            words.whole_number(effects.displaced_air_overs),
            "among the shut-outs then",
        ),
        Fact(
            Label("Displaced, over links", "displaced"),
            words.whole_number(effects.displaced_link_overs),
            "apart from the shut-outs",
        ),
        Fact(
            Label("Idle hold freed" if freed >= 0 else "Idle hold added", "idle hold then"), words.duration(abs(freed))
        ),
    )


def mail_paragraph(
    found: Replay, compared: Compared, advice: Suggestion, stretch: Stretch, repeater: str, asked: bool
) -> str:
    """What a keeper can paste into a mail to the group: one paragraph of plain text."""
    now, then, effects = compared.now, compared.then, compared.effects
    opening = (
        f"{repeater}, {stretch.words}: {_many(now.shut_outs, 'call')} {_be(now.shut_outs)} refused because another "
        "mode held the repeater. It was held and silent for "
        f"{_plain(words.duration(now.idle_hold_s))}."
    )
    middle = ""
    if asked:
        holds = ", ".join(f"{MODE_LABELS.get(mode, 'others')} {seconds:g} s" for mode, seconds in found.hold_s.items())
        ends = compared.interval.shut_outs
        likely = f" (95 %: {grouped(ends.low)} to {grouped(ends.high)})" if ends else ""
        middle = (
            f" With holds of {holds} and a time-out of {found.timeout_s:g} s it would have been "
            f"{grouped(then.shut_outs)}{likely} and "
            f"{_plain(words.duration(then.idle_hold_s))}: {grouped(effects.attempts_spared)} of the refused calls "
            "would have found it free, and "
            f"{_many(effects.displaced_air_overs, 'over')} would have met a longer hold. The price: "
            f"{_many(then.open_gaps, 'turnaround gap')} longer than "
            f"the hold ({grouped(now.open_gaps)} now), {_many(then.break_ins, 'break-in')} ({grouped(now.break_ins)} "
            "now), "
            f"{_many(then.overs_cut, 'over')} cut ({grouped(now.overs_cut)} now)."
        )
    reasons = f" {' '.join(advice.reasons)}" if advice.mode or not asked else ""
    return (
        f"{opening}{middle} {advice.says}{reasons} These are estimates from the log: they take it that people would "
        "have called as they did, "
        f"and that refused callers would have come back as they did. {TIMERS}"
    )


def _be(n: int) -> str:
    return "was" if n == 1 else "were"


def _many(n: int, one: str) -> str:
    return _plain(words.count(n, one))


def _plain(text: str) -> str:
    """Without characters that a mail program may mangle."""
    return text.replace(words.GAP, " ")


def _mode_curves(one: Curve) -> ModeCurves:
    name = MODE_LABELS[MODES[one.mode]]
    holds, in_force = [point.hold_s for point in one.points], one.in_force.hold_s
    shut_outs = [float(point.shut_outs.sum()) for point in one.points]
    idle = [float(point.idle_s.sum()) for point in one.points]
    ends = [bootstrap_count(point.shut_outs) for point in one.points]
    band = [(end.low, end.high) for end in ends if end is not None]
    charts = (
        curve_chart(f"Shut-outs of all modes over the hold of {name}, with the 95 % "
            "interval", holds, shut_outs, band, in_force, grouped),
        curve_chart(f"Idle hold over the hold of {name}", holds, idle, [], in_force, words.duration, time=True),
        curve_chart(
            f"Turnaround gaps of {name} longer than its "
                "hold", holds, [float(point.own_open) for point in one.points], [], in_force,
            grouped,
        ),
    )  # fmt: skip
    head = (
        Label("Hold"),
        Label("Shut-outs", "shut-outs then"),
        Label("95 %", "bootstrap"),
        Label("Spared", "spared"),
        Label("Displaced", "displaced"),
        Label("… links", "displaced"),
        Label("Idle hold", "idle hold then"),
        Label("Open gaps", "open gaps"),
        Label("Break-ins", "break-ins"),
    )
    rows = tuple(
        Row(
            Label(f"{point.hold_s:g}{words.GAP}s" + (", in force" if point is one.in_force else "")),
            (
                grouped(point.shut_outs.sum()),
                words.UNKNOWN if end is None else f"{grouped(end.low)} to {grouped(end.high)}",
                grouped(point.spared),
                grouped(point.displaced),
                grouped(point.unheard.sum()),
                words.duration(float(point.idle_s.sum())),
                f"{grouped(point.own_open)} of {grouped(one.gaps)}",
                grouped(point.break_ins.sum()),
            ),
        )
        for point, end in zip(one.points, ends, strict=True)
    )
    return ModeCurves(mode_name(MODES[one.mode]), charts, Table(f"Holds of {name}, the others as they are", head, rows))


def _cut_table(activity: Activity, window: tuple[int, int], timers: Timers, *, seen: bool) -> Table:
    rows = tuple(
        Row(
            Label(f"{cut.timeout_s:g}{words.GAP}s" + (", in force" if cut.timeout_s == timers.timeout_s else "")),
            (words.whole_number(cut.overs), words.duration(cut.seconds)) if seen else (words.UNKNOWN, words.UNKNOWN),
        )
        for cut in cuts(demand(activity, window, timers))
    )
    return Table(
        "Overs that a time-out would cut",
        (Label("Time-out"), Label("Overs", "overs cut"), Label("Time cut", "overs cut")),
        rows,
    )
