"""The Reception page: all that its template gets."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from server.analytics.reception import Day, Part, Reception
from server.analytics.reception_changes import Change
from server.telling import reception as told
from server.telling.caution import WORK
from server.telling.numbers import count, whole_number
from server.telling.parts import Fact, Label, Row, Table
from server.telling.unread import MEND, not_understood, nothing_told
from server.web.frame import Frame
from server.web.notes.marks import NotesShown, day_marks, notes_of, notes_shown
from server.web.reception.charts import DayChart, DayMark, DayValue, day_chart
from server.web.shell import Link, Shell
from server.web.source import Source
from shared.events import MODE_LABELS, MODES
from shared.zones import from_us, midnight

WEEKS, WEEKS_OF_A_YEAR = 13, 52
PARTS = 3  # of the day that are drawn
NEAR = dt.timedelta(days=2)
WENT_BACK = "With it, what was worse before went back."


@dataclass(frozen=True)
class ChangeItem:
    """One change."""

    number: str  #: by which the charts mark it
    level: str  #: look or fine: whether it is for the worse
    word: str  #: Worse or Better
    what: str  #: the sentence: from which day, what, by how much
    bounds: str  #: between which days it lies; empty where there is no doubt
    hours: tuple[bool, ...]  #: of each local hour, whether it holds in it; empty where it holds in all
    hours_say: str
    besides: str  #: what the other measure did
    stands: str  #: whether it goes on
    noted: str  #: which notes of what was done lie near its day
    checks: tuple[str, ...]  #: what to look at first; none where it is over


@dataclass(frozen=True)
class PartChart:
    """The days as they were in some local hours."""

    title: str
    chart: DayChart


@dataclass(frozen=True)
class ReceptionView:
    """What reception.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    span: str  #: which weeks
    other: Link  #: to the page of the other span
    headline: str  #: what the keeper needs first
    steps: tuple[str, ...]  #: what to do where something is missing
    known: bool  #: whether there is anything to draw
    caution: str  #: before work at the mast; empty where nothing leads there
    level: DayChart | None  #: of the level; None where no level is logged
    errors: DayChart | None  #: of the errors; None where none are logged
    parts: tuple[PartChart, ...]  #: of the hours in which alone something changed
    days_word: str  #: `day` or `week`: what a row of the table is
    days: Table  #: the charts in numbers
    changes: tuple[ChangeItem, ...]  #: the latest first
    no_change: str  #: said where there is none
    modes: Table  #: sizes by mode
    notes: NotesShown  #: what was done at the station in these days
    basis: tuple[Fact, ...]  #: what it all rests on


def reception_view(source: Source, upto: int, year: bool, frame: Frame) -> ReceptionView:
    """The weeks up to a local midnight. StoreError where the store can't be read."""
    weeks = WEEKS_OF_A_YEAR if year else WEEKS
    last = from_us(upto - 1, frame.zone).date()
    start = midnight(last - dt.timedelta(days=7 * weeks - 1), frame.zone)
    found, bounds = source.reception(start, upto), source.first_and_last()
    untold = _untold(source) if bounds is None else ""
    known = not told.not_known(found)
    numbered = [(str(place), one) for place, one in enumerate(found.changes, 1)]
    standing = told.standing(found.changes)
    notes = notes_of(source, start, upto)
    marks = day_marks(notes, frame)
    drawing = Drawing(found, numbered, [DayMark(one.day, one.letter) for one in marks])
    span, other, table = _of_a_year(found, frame) if year else _of_weeks(found, frame)
    return ReceptionView(
        shell=frame.shell("Reception", "/reception"),
        span=f"{span}, up to {told.date_words(last)} {last.year}",
        other=other,
        headline=f"{told.NOT_KNOWN}." if untold else told.headline(found),
        steps=(untold,) if untold else told.steps(found),
        known=known,
        caution=WORK if any(map(told.leads_to_the_mast, standing)) else "",
        level=drawing.level() if known else None,
        errors=drawing.errors() if known else None,
        parts=drawing.parts(),
        days_word="week" if year else "day",
        days=table,
        changes=tuple(_item(number, one, one in standing, drawing.notes) for number, one in reversed(numbered)),
        no_change=told.NO_CHANGE,
        modes=_mode_table(numbered),
        notes=notes_shown(notes, frame),
        basis=_basis(found),
    )


def _of_a_year(found: Reception, frame: Frame) -> tuple[str, Link, Table]:
    return "a year", frame.link(f"The last {WEEKS} weeks", "/reception"), _week_table(found)


def _of_weeks(found: Reception, frame: Frame) -> tuple[str, Link, Table]:
    return f"{WEEKS} weeks", frame.link("Over a year", "/reception/year"), _day_table(found)


@dataclass(frozen=True)
class Drawing:
    """What the charts are drawn from."""

    found: Reception
    numbered: Sequence[tuple[str, Change]]
    notes: Sequence[DayMark]  #: what was done at the station

    def level(self) -> DayChart | None:
        values = [DayValue(one.day, one.shift_db, one.low_db, one.high_db) for one in self.found.days]
        return self._of_all_hours(values, "dB", "The shift of the level") if self.found.levels else None

    def errors(self) -> DayChart | None:
        values = [DayValue(one.day, one.errors_pct) for one in self.found.days]
        some = any(one.value is not None for one in values)
        return self._of_all_hours(values, "points", "The shift of the bit errors") if some else None

    def _of_all_hours(self, values: Sequence[DayValue], unit: str, what: str) -> DayChart:
        mine = [(number, one) for number, one in self.numbered if not one.hours]
        marked = f"{count(len(mine), 'change')} marked" if mine else "no change is marked"
        return self._drawn(values, unit, mine, f"{what} of each day, {marked}; the numbers are in the table below.")

    def parts(self) -> tuple[PartChart, ...]:
        return tuple(map(self._part, self.found.parts[:PARTS]))

    def _part(self, part: Part) -> PartChart:
        mine = [(number, one) for number, one in self.numbered if one.hours == part.hours]
        by_level = all(told.level_counts(one) for _, one in mine)
        values = part.level_db if by_level else part.errors_pct
        days = [DayValue(one.day, value) for one, value in zip(self.found.days, values, strict=True)]
        title = f"{'Level' if by_level else 'Bit errors'} {told.hours_words(part.hours)}"
        says = f"{title}, day by day. {count(len(mine), 'change')} marked; their sizes are told beside."
        return PartChart(title, self._drawn(days, "dB" if by_level else "points", mine, says))

    def _drawn(
        self, values: Sequence[DayValue], unit: str, numbered: Sequence[tuple[str, Change]], says: str
    ) -> DayChart:
        return day_chart(values, unit, _marks(numbered), self.notes, says)


def _marks(numbered: Sequence[tuple[str, Change]]) -> list[DayMark]:
    return [DayMark(one.day, f"{number}{'▲' if one.kind == 'better' else '▼'}") for number, one in numbered]


def _untold(source: Source) -> str:
    """Why no log tells anything, and what to do."""
    lines = not_understood(source.intake())
    return f"{nothing_told(lines)} {MEND if lines else 'Run `airtally check`: it says what is missing.'}"


def _item(number: str, change: Change, stands: bool, notes: Sequence[DayMark]) -> ChangeItem:
    worse = change.kind != "better"
    hours = tuple(hour in change.hours for hour in range(24)) if change.hours else ()
    return ChangeItem(
        number=number,
        level=_level(worse, stands),
        word="Worse" if worse else "Better",
        what=told.change_words(change),
        bounds=told.day_bounds_words(change),
        hours=hours,
        hours_say=f"It holds only {told.hours_words(change.hours)}, local time." if change.hours else "",
        besides=told.besides_words(change),
        stands=_lasting(worse, stands),
        noted=_noted(change, notes),
        checks=told.checks(change) if stands else (),
    )


def _level(worse: bool, stands: bool) -> str:
    if not worse:
        return "fine"
    return "look" if stands else "note"


def _lasting(worse: bool, stands: bool) -> str:
    if worse:
        return "It lasts." if stands else "It is over."
    return "" if stands else WENT_BACK


def _noted(change: Change, notes: Sequence[DayMark]) -> str:
    """What was done within two days of the days between which a change lies."""
    first, last = change.earliest - NEAR, change.latest + NEAR
    letters = [one.label for one in notes if first <= one.day <= last]
    return f"Noted near that day: {', '.join(letters)}." if letters else ""


def _day_table(found: Reception) -> Table:
    head = (
        Label("Day"), Label("Level", "shift"), Label("95 % interval", "shift"), Label("Errors", "shift of errors"),
        Label("Stations", "regular"),
    )  # fmt: skip
    rows = tuple(Row(Label(told.date_words(one.day)), _day_cells(one)) for one in reversed(found.days))
    return Table("What the regulars have in common, day by day", head, rows)


def _day_cells(one: Day) -> tuple[str, ...]:
    return (
        told.signed(one.shift_db, " dB"),
        told.range_words(one.low_db, one.high_db),
        told.signed(one.errors_pct, " points"),
        told.few(one.stations),
    )


def _week_table(found: Reception) -> Table:
    """The middle of the days of each week."""
    weeks: dict[dt.date, list[Day]] = {}
    for one in found.days:
        weeks.setdefault(one.day - dt.timedelta(days=one.day.weekday()), []).append(one)
    rows = tuple(
        Row(
            Label(f"{told.date_words(monday)} {monday.year}"),
            (
                told.signed(_middle([one.shift_db for one in days]), " dB"),
                told.signed(_middle([one.errors_pct for one in days]), " points"),
                str(sum(one.shift_db is not None or one.errors_pct is not None for one in days)),
            ),
        )
        for monday, days in sorted(weeks.items(), reverse=True)
    )
    head = (Label("Week from"), Label("Level", "shift"), Label("Errors", "shift of errors"), Label("Days known"))
    return Table("What the regulars have in common: the middle of each week's days", head, rows)


def _middle(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return median(known) if known else None


def _mode_table(numbered: Sequence[tuple[str, Change]]) -> Table:
    numbered = [(number, one) for number, one in numbered if told.level_counts(one)]
    modes = [mode for mode in MODES if any(mode in one.modes for _, one in numbered)]
    rows = tuple(
        Row(
            Label(f"{number}: {told.date_words(one.day)}"),
            tuple(told.signed(one.modes[mode], " dB") if mode in one.modes else "–" for mode in modes),
        )
        for number, one in reversed(numbered)
        if one.modes
    )
    head = (Label("Change", "size of a change"), *(Label(MODE_LABELS[mode], None, mode) for mode in modes))
    return Table("The level of each change, by mode; –: fewer than 5 stations tell it", head, rows)


def _basis(found: Reception) -> tuple[Fact, ...]:
    known = sum(one.shift_db is not None or one.errors_pct is not None for one in found.days)
    return (
        Fact(Label("Regulars", "regular"), told.few(found.regulars), told.REGULARS_NOTE),
        Fact(Label("Readings", "reading"), whole_number(found.readings), told.READINGS_NOTE),
        Fact(Label("Days known", "shift"), f"{known} of {len(found.days)}", told.KNOWN_NOTE),
    )
