"""What Explore can look at, and how it is written."""

from dataclasses import dataclass

from server.analytics.by_target import NOT_LOGGED, Brought, Targets
from server.analytics.explored import CHANNEL, DUTIES, Explored
from server.telling.modes import mode_name
from server.telling.numbers import duration, whole_number
from server.telling.parts import Label, Row, Table
from server.telling.targets import TargetNames
from server.telling.words import percent


@dataclass(frozen=True)
class Measure:
    """A figure that adds up, or of which the greatest counts."""

    name: str  #: in addresses
    label: Label
    column: str  #: of the tallies

    @property
    def is_share(self) -> bool:
        return self.column in DUTIES

    @property
    def is_length(self) -> bool:
        return self.column.endswith("_us") and not self.is_share

    @property
    def unit(self) -> str:
        """What a picture's axis counts."""
        return "minutes" if self.is_length else "per cent" if self.is_share else "number"

    @property
    def scale(self) -> float:
        """What a value is divided by for the axis."""
        return 60 if self.is_length else 0.01 if self.is_share else 1

    def words(self, value: float | None) -> str:
        if self.is_share:
            return percent(value)
        return duration(value) if self.is_length else whole_number(value)


MEASURES = {
    one.name: one
    for one in (
        Measure("airtime", Label("Airtime", "airtime"), "airtime_us"),
        Measure("held", Label("Held", "held"), "held_us"),
        Measure("silent", Label("Held and silent", "idle hold"), "idle_hold_us"),
        Measure("shut-outs", Label("Shut-outs", "shut-out"), "shut_outs"),
        Measure("overs", Label("Overs", "over"), "overs"),
        Measure("time-outs", Label("Time-outs, counted", "timeout"), "timeouts"),
        Measure("time-outs-estimated", Label("Time-outs, estimated", "timeout estimated"), "timeouts_estimated"),
        Measure("near", Label("Near time-outs", "near timeout"), "near_timeouts"),
        Measure("keyed", Label("Keyed", "keyed time"), "keyed_us"),
        Measure("duty-6", Label("Fullest 6 min", "duty"), "duty_6_us"),
        Measure("duty-30", Label("Fullest 30 min", "duty"), "duty_30_us"),
        Measure("duty-60", Label("Fullest 60 min", "duty"), "duty_60_us"),
        Measure("seen", Label("Seen", "blind time"), "seen_us"),
    )
}
OF_THE_CHANNEL = ("keyed", "seen", "duty-6", "duty-30", "duty-60")  #: these have no part by mode


def modes_by_airtime(found: Explored) -> list[str]:
    """The modes of a stretch, most airtime first."""
    return sorted(found.modes, key=lambda mode: (-(found.total(mode, "airtime_us") or 0.0), mode))


def target_tables(found: Targets, names: TargetNames) -> tuple[Table, ...]:
    """Overs and airtime by target, and by reach."""
    head = (Label("Overs", "over"), Label("Airtime", "airtime"))

    def row(label: Label, its: Brought) -> Row:
        return Row(label, (whole_number(its.overs), duration(its.airtime_s)))

    def called(mode: str | None, target: str, is_target: bool) -> Label:
        word = names.of_target(mode, target) if is_target else f"target {target}" if target == NOT_LOGGED else target
        mode_label = mode_name(mode) if mode else Label("Mode not known")
        return Label(f"{mode_label.text}, {word}", mode=mode_label.mode)

    targets = [row(called(mode, target, is_target), its) for mode, target, is_target, its in found.rows]
    reaches = [
        row(Label((reach or "not set").capitalize()), found.reaches[reach])
        for reach in ("local", "regional", "wide", None)
        if reach in found.reaches
    ]
    return (
        Table(
            "By target; one not in the station file that fewer than 5 stations used is among the others",
            (Label("Target"), *head),
            tuple(targets),
        ),
        Table("By reach, as the station file has it", (Label("Reach"), *head), tuple(reaches)),
    )


def totals_table(found: Explored, caption: str) -> Table:
    """All measures of a stretch, by mode and for the channel."""
    whole = found.whole()

    def cells(mode: str) -> tuple[str, ...]:
        return tuple(
            "–" if mode != CHANNEL and one.name in OF_THE_CHANNEL else one.words(whole.values(mode, one.column)[0])
            for one in MEASURES.values()
        )

    rows = [Row(mode_name(mode), cells(mode)) for mode in modes_by_airtime(found)]
    head = (Label("Mode"), *(one.label for one in MEASURES.values()))
    return Table(caption, head, (*rows, Row(Label("Channel", "channel airtime"), cells(CHANNEL))))
