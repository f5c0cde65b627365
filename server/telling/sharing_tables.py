"""The tables of the Sharing page, from the figures and what they are beside."""

from collections.abc import Sequence

from server.analytics.channel_share import Chance, HeldTime, Loss, Sharing, Slots, Talked
from server.analytics.figure_types import Figures
from server.analytics.intervals import Interval
from server.analytics.traffic import BusyHour
from server.telling import words
from server.telling.modes import mode_name
from server.telling.numbers import shares_between
from server.telling.outside import visible
from server.telling.parts import Fact, Label, Row, Table
from server.telling.targets import TargetNames
from shared.events import MODE_LABELS, MODES


def interval_words(interval: Interval | None) -> str:
    """`8 to 14 %`."""
    if interval is None:
        return words.UNKNOWN
    return shares_between(interval.low, interval.high)


def held_table(held: Sequence[HeldTime]) -> Table:
    head = (
        Label("Mode"),
        Label("Held", "held"),
        Label("On the air", "airtime"),
        Label("Idle hold", "idle hold"),
        Label("Resumed", "resumed"),
        Label("Ran out", "resumed"),
    )
    rows = tuple(
        Row(
            mode_name(MODES[one.mode]),
            tuple(words.duration(s) for s in (one.held_s, one.airtime_s, one.idle_s, one.resumed_s, one.ran_out_s)),
        )
        for one in held
    )
    return Table("What each mode holds: on the air, and silent", head, rows)


def unsided(figures: Figures, mode: int) -> bool:
    """Whether no over of a mode has a side in the log: then nobody knows which calls got through."""
    its = figures.modes.get(MODES[mode])
    return its is not None and its.air_overs is None


def chance_table(sharing: Sharing, figures: Figures) -> Table:
    """The chance of finding the repeater held, over all hours."""
    head = (
        Label("Mode"),
        Label("Risk", "shut-out risk"),
        Label("As counted", "chance"),
        Label("95 %", "wilson"),
        Label("Calls"),
    )
    rows = tuple(
        Row(mode_name(MODES[mode]), _chance_cells(chances[24], known=not unsided(figures, mode)))
        for mode, chances in sharing.chances.items()
    )
    return Table("The chance that a caller finds the repeater held by another mode", head, rows)


def chance_hours(mode: int, chances: Sequence[Chance], figures: Figures) -> Table:
    head = (
        Label("Hour"),
        Label("Risk", "shut-out risk"),
        Label("As counted", "chance"),
        Label("95 %", "wilson"),
        Label("Calls"),
    )
    rows = tuple(
        Row(Label(f"{hour:02d}"), _chance_cells(chances[hour], known=not unsided(figures, mode))) for hour in range(24)
    )
    return Table(f"{MODE_LABELS[MODES[mode]]}, hour by hour, local time", head, rows)


def _chance_cells(chance: Chance, *, known: bool) -> tuple[str, ...]:
    """`known`: whether the calls that got through are."""
    if not known:
        return words.percent(chance.risk), words.UNKNOWN, words.UNKNOWN, words.UNKNOWN
    counted = words.percent(chance.shut_outs / chance.calls) if chance.calls else words.NONE
    interval = interval_words(chance.interval) if chance.calls else words.NONE
    return (
        words.percent(chance.risk),
        counted,
        interval,
        f"{words.whole_number(chance.shut_outs)} of {words.whole_number(chance.calls)}",
    )


def slot_facts(slots: Slots) -> tuple[Fact, ...]:
    first, second = slots.slot_s
    share = first / (first + second) if first + second else None
    facts = [
        Fact(Label("Slot 1", "slot airtime"), words.duration(first), f"{words.percent(share)} of the two"),
        Fact(Label("Slot 2", "slot airtime"), words.duration(second)),
        Fact(
            Label("Both at once", "both slots"),
            words.duration(slots.both_s),
            "counted: talk that one slot would not have carried",
        ),
    ]
    if slots.loss is not None and slots.one_slot is not None:
        saved = slots.one_slot - slots.loss.expected
        note = (
            f"of calls would have found one slot taken: {_share(slots.one_slot)} on one, "
            f"{_share(slots.loss.expected)} on two, by Erlang B"
        )
        facts.append(Fact(Label("The second slot saves", "second slot"), f"{_share(saved)} estimated", note))
    return tuple(facts)


def loss_table(sharing: Sharing) -> Table:
    """Carried and offered traffic, what Erlang B expects, and what was measured."""
    head = (
        Label("Of"),
        Label("Offered, erlang", "erlang"),
        Label("Erlang B, estimated", "expected loss"),
        Label("Measured"),
        Label("95 %", "wilson"),
    )
    found: list[tuple[str, Loss]] = []
    if sharing.channel:
        found.append(("Calls to the repeater", sharing.channel))
    found += [
        (f"{MODE_LABELS[MODES[mode]]}, both slots", slots.loss) for mode, slots in sharing.slots.items() if slots.loss
    ]
    rows = tuple(
        Row(
            Label(name),
            (
                f"{loss.offered:.3f}", _share(loss.expected), _share(loss.measured),
                interval_words(loss.interval) if loss.interval else words.NONE,
            ),
        )
        for name, loss in found
    )  # fmt: skip
    return Table("Lost calls: Erlang B’s expectation beside the measured", head, rows)


def _share(share: float) -> str:
    return words.percent(share)


def busy_table(months: Sequence[tuple[str, BusyHour]]) -> Table:
    head = (Label("Month"), Label("Busy hour from", "busy hour"), Label("Erlang", "erlang"), Label("Days"))
    rows = tuple(
        Row(Label(name), (busy.start, f"{busy.erlang:.2f}", str(busy.days)))
        for name, busy in months
        if busy.start is not None and busy.erlang
    )
    return Table("Busy hour, month by month", head, rows)


_TALK_HEAD = (
    Label("Talks", "conversation"),
    Label("Gap, median", "turnaround"),
    Label("Short gaps", "short gap"),
    Label("Kerchunks", "kerchunk"),
    Label("Local on wide", "local on wide"),
)


def talk_by_target(sharing: Sharing, targets: Sequence[str], names: TargetNames, any_wide: bool) -> Table:
    rows = tuple(
        Row(
            Label(_name(names.of_target(MODES[mode], targets[target])) if target >= 0 else "All others"),
            (MODE_LABELS[MODES[mode]], *_talk_cells(talked, any_wide)),
        )
        for mode, target, talked in sharing.by_target
    )
    caption = "How people talk, by target; targets of fewer than 5 stations stand among the others"
    return Table(caption, (Label("Target"), Label("Mode"), *_TALK_HEAD), rows, frozenset({0}))


def _name(target: str) -> str:
    """A name from the log with nothing in it that acts or hides."""
    return "".join(piece.text for piece in visible(target, 64))


def talk_by_hour(sharing: Sharing, any_wide: bool) -> Table:
    rows = tuple(
        Row(Label(f"{hour:02d}"), _talk_cells(talked, any_wide)) for hour, talked in enumerate(sharing.by_hour)
    )
    return Table("How people talk, by local hour", (Label("Hour"), *_TALK_HEAD), rows)


def _talk_cells(talked: Talked, any_wide: bool) -> tuple[str, ...]:
    return (
        words.whole_number(talked.conversations),
        words.NONE if talked.gap_median_s is None else words.duration(talked.gap_median_s),
        words.NONE if talked.short_share is None else words.percent(talked.short_share),
        words.whole_number(talked.kerchunks),
        words.whole_number(talked.local_on_wide) if any_wide else words.NONE,
    )
