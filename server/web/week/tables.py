"""The tables and lists of figures on the Week page, from the figures alone."""

from collections.abc import Callable, Mapping
from zoneinfo import ZoneInfo

from server.analytics.figure_types import Figures, Mode, Slots, Stations
from server.telling import words
from server.telling.modes import by_airtime, mode_name, shut_out_cells, timeout_cells
from server.telling.moments import stretch_words
from server.telling.numbers import estimated, stations
from server.telling.parts import Fact, Label, Row, Table
from server.web.week.usual import Beside


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
    unfinished = channel.unfinished
    facts = [
        Fact(Label("On the air", "channel airtime"), words.duration(channel.airtime_s)),
        Fact(Label("Occupancy", "occupancy"), words.percent(channel.occupancy)),
        Fact(Label("Transmitter keyed", "keyed time"), words.duration(channel.keyed_s)),
        Fact(Label("Overs", "over"), words.whole_number(channel.overs)),
        Fact(Label("Stations", "stations"), stations(channel.stations)),
    ]
    if unfinished:
        facts.append(Fact(Label("Unfinished overs", "unfinished"), words.whole_number(unfinished), "no end in the log"))
    if figures.window.blind_s:
        facts.append(Fact(Label("Blind time", "blind time"), words.duration(figures.window.blind_s), "no log"))
    return tuple(facts)


def shut_out_table(figures: Figures) -> Table:
    """Who held the repeater while who wanted it, most attempts first."""
    head = (Label("Held by"), Label("Wanted by"), Label("Calls", "shut-out"), Label("Mean wait", "shut-out wait"))
    rows = tuple(
        Row(
            mode_name(pair.held_by),
            (
                mode_name(pair.wanted).text,
                words.whole_number(pair.attempts),
                words.duration(pair.mean_wait_s),
            ),
        )
        for pair in figures.shut_outs or ()
    )
    return Table("Calls and their mean wait, by who held and what was wanted", head, rows, frozenset({0}))


def shut_out_modes(figures: Figures) -> Table:
    head = (Label("Mode"), Label("Suffered", "shut-out"), Label("Caused", "shut-out"), Label("Risk", "shut-out risk"))
    rows = tuple(Row(mode_name(mode), shut_out_cells(its)) for mode, its in by_airtime(figures))
    return Table("Shut-outs by mode, and the chance that a caller finds the repeater held", head, rows)


def shut_out_facts(figures: Figures) -> tuple[Fact, ...]:
    waiters = figures.likely_waiters_estimated
    return (
        Fact(
            Label("Likely waiters", "likely waiter"),
            words.UNKNOWN if waiters is None else estimated(waiters),
            "began just as another mode let go; not among the calls above",
        ),
        Fact(
            Label("Idle hold", "idle hold"),
            words.duration(figures.channel.idle_hold_s),
            "held for a mode, and silent",
        ),
    )


def timeout_table(figures: Figures) -> Table:
    """Modes that had any; counted and estimated stand apart."""
    head = (
        Label("Mode"),
        Label("Logged", "timeout"),
        Label("By length", "timeout estimated"),
        Label("Near", "near timeout"),
        Label("Locked out", "lockout"),
    )
    rows = [Row(mode_name(mode), cells) for mode, its in by_airtime(figures) if (cells := timeout_cells(its))]
    return Table("Time-outs by mode", head, tuple(rows))


def busy_facts(figures: Figures) -> tuple[Fact, ...]:
    busy = figures.busy_hour
    if busy.start is None:
        return (Fact(Label("Busy hour", "busy hour"), words.UNKNOWN, "no whole day was seen"),)
    hour, minute = busy.start.split(":")
    until = f"{(int(hour) + 1) % 24:02d}:{minute}"
    return (
        Fact(
            Label("Busy hour", "busy hour"),
            f"{busy.start} to {until}",
            f"mean of {words.count(busy.days, 'day')}",
        ),
        Fact(Label("Traffic in it", "erlang"), words.erlang(busy.erlang)),
    )


def duty_table(figures: Figures, zone: ZoneInfo) -> Table:
    rows = []
    for minutes, fullest in figures.duty:
        when = stretch_words(*fullest.span, zone) if fullest.span else words.NONE
        rows.append(Row(Label(f"{minutes}{words.GAP}min"), (words.percent(fullest.share), when)))
    head = (Label("Length"), Label("Keyed", "duty"), Label("When"))
    return Table("The transmitter’s most heavily keyed 6, 30 and 60 minutes", head, tuple(rows), frozenset({1}))


def talk_facts(figures: Figures, courtesy_gap_s: float) -> tuple[Fact, ...]:
    talk = figures.talk
    facts = [
        Fact(Label("Conversations", "conversation"), words.whole_number(talk.conversations)),
        Fact(Label("Turnaround gap", "turnaround"), words.duration(talk.turnaround_median_s), "median"),
        Fact(
            Label("Short gaps", "short gap"),
            words.percent(talk.short_gap_share),
            f"of the gaps are under {courtesy_gap_s:g}{words.GAP}s: too short for linked listeners to break in",
        ),
    ]
    note = f"in {words.count(talk.local_on_wide, 'conversation')}" if talk.local_on_wide else ""
    facts.append(Fact(Label("Local talk on wide targets", "local on wide"), words.duration(talk.local_on_wide_s), note))
    return tuple(facts)


def line_facts(figures: Figures) -> tuple[Fact, ...]:
    intake = figures.intake
    lines = intake.lines
    share = f"{words.percent(intake.unread / lines)} of them" if lines and intake.unread else ""
    return (
        Fact(Label("Lines of the log", "lines"), words.whole_number(lines)),
        Fact(Label("Could not be read", "lines"), words.whole_number(intake.unread), share),
        Fact(Label("Orphans", "orphan"), words.whole_number(intake.orphans), "ends without a start"),
        Fact(Label("Doubtful overs", "doubtful"), words.whole_number(intake.doubtful), "stamps and duration disagree"),
    )
