"""Traffic: the busy hour, and what each mode carries."""

from server.analytics.figure_types import Figures
from server.telling import words
from server.telling.modes import by_airtime, mode_name
from server.telling.parts import Fact, Label, Row, Table


def busy_days(figures: Figures) -> str:
    """The days that the busy hour is a mean over."""
    return words.count(figures.busy_hour.days, "day")


def busy_facts(figures: Figures) -> tuple[Fact, ...]:
    """The busy hour and the traffic in it."""
    busy = figures.busy_hour
    if busy.start is None:
        return (Fact(Label("Busy hour", "busy hour"), words.UNKNOWN, "no whole day was seen"),)
    if not busy.erlang:
        said = f"nothing was on the air on the {busy_days(figures)} that were seen"
        return (Fact(Label("Busy hour", "busy hour"), "none", said),)
    hour, minute = busy.start.split(":")
    return (
        Fact(
            Label("Busy hour", "busy hour"),
            f"{busy.start} to {(int(hour) + 1) % 24:02d}:{minute}",
            f"mean of {busy_days(figures)}",
        ),
        Fact(Label("Traffic in it", "erlang"), words.erlang(busy.erlang)),
    )


def carried_table(figures: Figures) -> Table:
    head = (Label("Mode"), Label("Carried, erlang", "erlang"), Label("Airtime", "airtime"))
    rows = tuple(
        Row(
            mode_name(mode),
            (words.NONE if its.erlang is None else words.fine_erlang(its.erlang), words.duration(its.airtime_s)),
        )
        for mode, its in by_airtime(figures)
    )
    return Table("Carried traffic", head, rows)
