"""What other timers would have meant, in tables and facts."""

from collections.abc import Callable, Iterable, Mapping, Sequence

from server.analytics.intervals import Interval
from server.analytics.replay_curves import Curve, Cut
from server.analytics.replay_result import Compared, Sums
from server.telling import words
from server.telling.numbers import between, seconds_set
from server.telling.parts import Fact, Label, Row, Table
from shared.events import MODE_LABELS, MODES
from shared.numbers import grouped

Tell = Callable[[float], str]


def beside_table(compared: Compared) -> Table:
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


def counted_facts(compared: Compared) -> tuple[Fact, ...]:
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


def simulated_facts(compared: Compared) -> tuple[Fact, ...]:
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


def curve_table(curve: Curve, ends: Sequence[Interval | None]) -> Table:
    """Holds of one mode downwards; `ends` are the intervals of their shut-outs."""
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
            Label(_set(point.hold_s, in_force=point is curve.in_force)),
            (
                grouped(point.shut_outs.sum()),
                words.UNKNOWN if end is None else between(end.low, end.high),
                grouped(point.spared),
                grouped(point.displaced),
                grouped(point.unheard.sum()),
                words.duration(float(point.idle_s.sum())),
                f"{grouped(point.own_open)} of {grouped(curve.gaps)}",
                grouped(point.break_ins.sum()),
            ),
        )
        for point, end in zip(curve.points, ends, strict=True)
    )
    name = MODE_LABELS[MODES[curve.mode]]
    return Table(f"Holds of {name}, the others as they are", head, rows)


def _set(seconds: float, *, in_force: bool) -> str:
    return seconds_set(seconds) + (", in force" if in_force else "")


def cut_table(cuts: Iterable[Cut], timeout_s: float, *, seen: bool) -> Table:
    """Time-outs downwards; `timeout_s` is the one in force."""
    rows = tuple(
        Row(
            Label(_set(cut.timeout_s, in_force=cut.timeout_s == timeout_s)),
            (words.whole_number(cut.overs), words.duration(cut.seconds)) if seen else (words.UNKNOWN, words.UNKNOWN),
        )
        for cut in cuts
    )
    head = (Label("Time-out"), Label("Overs", "overs cut"), Label("Time cut", "overs cut"))
    return Table("Overs that a time-out would cut", head, rows)


def holds_words(hold_s: Mapping[str, float]) -> str:
    """`DMR 5 s, others 20 s`."""
    return ", ".join(f"{MODE_LABELS.get(mode, 'others')} {seconds_set(seconds)}" for mode, seconds in hold_s.items())
