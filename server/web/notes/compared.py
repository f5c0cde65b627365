"""Before and after a note, or a change of timers: every figure of the days, all that the template gets."""

from dataclasses import dataclass

from server.analytics.before_after import MOST_WEEKS, Change, bounds, weeks_around
from server.analytics.daily import Compared, compared
from server.store.notes import TIMERS, Note
from server.telling import words
from server.telling.caution import TIMERS as TIMERS_FIRST
from server.telling.caution import WORK
from server.telling.moments import instant_words
from server.telling.notes import note_words
from server.telling.outside import VisibleText, visible
from server.telling.parts import Label, Row, Table
from server.web.frame import Frame
from server.web.notes.marks import NotesShown, notes_shown
from server.web.shell import Link, Shell
from server.web.source import Source
from shared.events import MODE_LABELS
from shared.numbers import grouped
from shared.zones import from_us

#: Figure -> what it is called, its definition, and its unit.
NAMES = {
    "refused": ("Refused calls", "refused a day", "a day"),
    "airtime": ("Airtime", "channel airtime", "min a day"),
    "overs": ("Overs", "over", "a day"),
    "timeouts": ("Time-outs, logged", "timeout", "a day"),
    "shift": ("Level of the regulars", "step", "dB"),
    "errors": ("Errors of the regulars", "step", "points"),
}
TOLD_APART = " *"  #: after a change whose interval leaves 0 out


@dataclass(frozen=True)
class ComparedView:
    """What notes_compared.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    when: str  #: the day and time of it
    note: tuple[VisibleText, ...]  #: what was done
    says: str  #: what is compared, or why nothing is
    table: Table  #: a figure a row
    others: NotesShown  #: what else was noted in these weeks
    back: Link  #: to all notes
    caution: str  #: before timers are changed, or anybody works at the station


def compared_view(source: Source, note: Note, frame: Frame) -> ComparedView:
    """As many whole weeks on both sides as there are without another change of timers or another note of its kind."""
    notes, known = source.notes(), source.first_and_last()
    apart = tuple(one.at_us for one in notes if one.kind in (TIMERS, note.kind) and one.at_us != note.at_us)
    weeks = weeks_around(note.at_us, *known, frame.zone, apart) if known else 0
    day = from_us(note.at_us, frame.zone).date()
    rows: tuple[Compared, ...] = ()
    others: list[Note] = []
    if weeks:
        window = bounds(day, weeks, frame.zone)
        rows = compared(source.activity(*window), source.reception(*window).days, day, weeks, frame.zone)
        others = [one for one in notes if window[0] <= one.at_us < window[1] and one != note]
    return ComparedView(
        shell=frame.shell("Before and after", None),
        when=instant_words(note.at_us, frame.zone, with_year=True),
        note=visible(note_words(note)),
        says=_says(weeks, note.kind),
        table=_table(rows),
        others=notes_shown(others, frame),
        back=frame.link("All notes", "/notes"),
        caution=TIMERS_FIRST if note.kind == TIMERS else WORK,
    )


def _says(weeks: int, kind: str) -> str:
    if not weeks:
        return (
            "There are not yet two whole weeks of log on both sides of it, without another such change in them, to"
            f" compare; it looks at up to {MOST_WEEKS}."
        )
    other = "change of timers" if kind == TIMERS else f"note of the kind {kind} and no change of timers"
    return (
        f"{words.count(weeks, 'whole week')} before and as many after, with no other {other} in them. The change is"
        " estimated: weekday against weekday, with the trend taken out. With so many figures, one in twenty seems to"
        " have changed by chance."
    )


def _table(rows: tuple[Compared, ...]) -> Table:
    head = (Label("Figure"), Label("Before"), Label("After"), Label("Change, estimated", "step"), Label("95 %", "step"))
    told = tuple(Row(_label(one), _cells(one.change, NAMES[one.figure][2])) for one in rows)
    return Table("Means of a day, as counted; a star: the interval leaves 0 out", head, told)


def _label(one: Compared) -> Label:
    name, definition, unit = NAMES[one.figure]
    of = f", {MODE_LABELS[one.mode]}" if one.mode else ""
    return Label(f"{name}{of} ({unit})", definition, one.mode)


def _cells(change: Change | None, unit: str) -> tuple[str, ...]:
    if change is None:
        return (words.UNKNOWN,) * 4
    low, high = change.interval.low, change.interval.high
    star = TOLD_APART if low > 0 or high < 0 else ""
    digits = 2 if unit in ("dB", "points") else 1
    return (
        *(_number(value, digits) for value in (change.before, change.after)),
        _signed(change.step, digits) + star,
        f"{_signed(low, digits)} to {_signed(high, digits)}",
    )


def _number(value: float, digits: int) -> str:
    return grouped(round(value, digits) + 0.0, digits).replace("-", "−")  # never a zero with a sign


def _signed(value: float, digits: int) -> str:
    return ("+" if round(value, digits) > 0 else "") + _number(value, digits)
