"""The tables and lists of figures on the Week page, from the figures alone."""

from collections.abc import Callable, Mapping

from server.analytics.compare import Beside
from server.analytics.figure_types import Figures, Mode, Slots, Stations
from server.telling import words
from server.telling.lines import blind_fact, doubtful_fact, unfinished_fact, unread_fact
from server.telling.modes import by_airtime, mode_name
from server.telling.numbers import stations
from server.telling.parts import Fact, Label, Row, Table


def mode_table(figures: Figures, airtime: Mapping[str, Beside]) -> Table:
    """Figures downwards, modes across, most airtime first."""
    modes = dict(by_airtime(figures))

    def row(text: str, figure: str, tell: Callable[[str, Mode], str]) -> Row:
        return Row(Label(text, figure), tuple(tell(mode, its) for mode, its in modes.items()))

    def counts(text: str, figure: str, count: Callable[[Mode], Stations]) -> Row:
        return row(text, figure, lambda _, its: stations(count(its)))

    def slot(text: str, figure: str, seconds: Callable[[Slots], float]) -> Row:
        return row(text, figure, lambda _, its: words.duration(seconds(its.slots)) if its.slots else words.NONE)

    def usual(mode: str, last: bool) -> str:
        it = airtime.get(mode)
        value = None if it is None else it.last if last else it.usual
        return words.NONE if value is None else words.duration(value)

    rows = [
        row("Airtime", "airtime", lambda _, its: words.duration(its.airtime_s)),
        row("Usual airtime", "change", lambda mode, _: usual(mode, last=False)),
        row("Week before", "change", lambda mode, _: usual(mode, last=True)),
    ]
    if any(its.slots for its in modes.values()):
        rows += [
            slot("Slot 1", "slot airtime", lambda slots: slots.first_s),
            slot("Slot 2", "slot airtime", lambda slots: slots.second_s),
            slot("Both slots", "both slots", lambda slots: slots.both_s),
        ]
    rows += [
        row("Traffic, erlang", "erlang", lambda _, its: words.erlang(its.erlang).removesuffix(f"{words.GAP}erlang")),
        counts("Overs", "over", lambda its: its.overs),
        counts("… by radio", "over", lambda its: its.air_overs),
        counts("… over links", "over", lambda its: its.link_overs),
        counts("Stations", "stations", lambda its: its.stations),
        *([counts("Pages", "page", lambda its: its.pages)] if any(its.pages for its in modes.values()) else []),
        row("Idle hold", "idle hold", lambda _, its: words.duration(its.idle_hold_s)),
        counts("Kerchunks", "kerchunk", lambda its: its.kerchunks),
        counts("Doublings", "doubling", lambda its: its.doublings),
    ]
    return Table("Each mode in numbers", (Label("Figure"), *(mode_name(mode) for mode in modes)), tuple(rows))


def channel_facts(figures: Figures) -> tuple[Fact, ...]:
    channel = figures.channel
    facts = [
        Fact(Label("On the air", "channel airtime"), words.duration(channel.airtime_s)),
        Fact(Label("Occupancy", "occupancy"), words.percent(channel.occupancy)),
        Fact(Label("Transmitter keyed", "keyed time"), words.duration(channel.keyed_s)),
        Fact(Label("Overs", "over"), words.whole_number(channel.overs)),
        Fact(Label("Stations", "stations"), stations(channel.stations)),
    ]
    if channel.pages:
        facts.append(Fact(Label("Pages", "page"), words.whole_number(channel.pages)))
    if channel.unfinished:
        facts.append(unfinished_fact(figures))
    if figures.window.blind_s:
        facts.append(blind_fact(figures))
    return tuple(facts)


def line_facts(figures: Figures) -> tuple[Fact, ...]:
    intake = figures.intake
    return (
        Fact(Label("Lines of the log", "lines"), words.whole_number(intake.lines)),
        unread_fact(figures),
        Fact(Label("Orphans", "orphan"), words.whole_number(intake.orphans), "ends without a start"),
        doubtful_fact(figures),
    )
