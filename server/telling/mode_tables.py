"""What each mode has, in tables."""

from collections.abc import Callable, Mapping

from server.analytics.compare import CHANNEL, Beside
from server.analytics.figure_types import Channel, Figures, Mode, Slots, Stations, Withheld
from server.telling import words
from server.telling.changes import change_cell
from server.telling.modes import by_airtime, mode_name
from server.telling.numbers import stations
from server.telling.parts import Label, Row, Table
from server.telling.period import Period

FEW_NOTE = (
    f"Groups under five stations are told as “{Withheld.FEWER}”; “kept back” where a count beside the others "
    "would tell of such a group."
)


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
    ]
    if airtime:
        rows += [
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
        *([_estimated_pages(modes)] if any(its.pages_estimated for its in modes.values()) else []),
        row("Idle hold", "idle hold", lambda _, its: words.duration(its.idle_hold_s)),
        counts("Kerchunks", "kerchunk", lambda its: its.kerchunks),
        counts("Doublings", "doubling", lambda its: its.doublings),
    ]
    return Table("Each mode in numbers", (Label("Figure"), *(mode_name(mode) for mode in modes)), tuple(rows))


def _estimated_pages(modes: Mapping[str, Mode]) -> Row:
    """Airtime of pages without a length in the log: in no other row."""

    def tell(its: Mode) -> str:
        return f"{words.duration(its.pages_airtime_estimated_s)} estimated" if its.pages_estimated else words.NONE

    return Row(Label("Pages without a length", "airtime of pages"), tuple(tell(its) for its in modes.values()))


def use_table(period: Period) -> Table:
    """Modes downwards and the channel last: hours, share of airtime, overs, stations, the change against the usual."""
    head = (
        Label("Mode"),
        Label("Hours", "airtime"),
        Label("Share", "airtime"),
        Label("Overs", "over"),
        Label("Stations", "stations"),
        Label("Against the usual", "change"),
    )
    figures = period.figures
    whole = figures.channel.airtime_s
    rows = [
        Row(mode_name(mode), _use_cells(its, _share(its, whole), change_cell(period, mode)))
        for mode, its in by_airtime(figures)
    ]
    gone = [mode for mode, it in period.airtime.items() if mode and mode not in figures.modes and it.usual]
    rows += [
        Row(mode_name(mode), (words.hours(0.0), words.NONE, "0", words.NONE, change_cell(period, mode)))
        for mode in gone
    ]
    channel = _use_cells(figures.channel, words.NONE, change_cell(period, CHANNEL))
    rows.append(Row(Label("Channel", "channel airtime"), channel))
    return Table("The channel and each mode", head, tuple(rows), frozenset({4}))


def _share(its: Mode, whole: float | None) -> str:
    return words.percent(its.airtime_s / whole) if whole and its.airtime_s is not None else words.NONE


def _use_cells(its: Channel | Mode, share: str, change: str) -> tuple[str, ...]:
    return words.hours(its.airtime_s), share, words.whole_number(its.overs), stations(its.stations), change
