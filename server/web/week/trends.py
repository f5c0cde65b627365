"""Thirteen weeks of each mode as small lines: time on the air, shut-outs, time-outs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.analytics.compare import SEEN_ENOUGH
from server.store.notes import Note
from server.telling import words
from server.telling.modes import mode_name
from server.telling.moments import day_words
from server.telling.parts import Label, Row, Table
from server.web.source import Sums, WeekBefore
from server.web.weeks import week_of
from shared.events import MODES

WEEKS = 13
FEWEST = 3  #: weeks seen, without which there is no line to draw
WIDTH, HEIGHT, PAD = 100.0, 26.0, 3.0
#: What is drawn of each mode: the figure's name among the definitions, its title, its value and its words.
Drawn = tuple[str, str, Callable[[Sums], float], Callable[[float], str]]
DRAWN: tuple[Drawn, Drawn, Drawn] = (
    ("airtime", "On the air", lambda sums: sums.airtime_s, words.duration),
    ("shut-out", "Shut out", lambda sums: sums.shut_outs, words.whole_number),
    ("timeout", "Time-outs", lambda sums: sums.timeouts, words.whole_number),
)
#: Drawn in place of time-outs where a mode's log has none and some were inferred: they are never added up.
ESTIMATED: Drawn = (
    "timeout estimated",
    "Time-outs, estimated",
    lambda sums: sums.timeouts_estimated,
    words.whole_number,
)


@dataclass(frozen=True)
class Line:
    """One small line: a path through the weeks that count, broken where one does not."""

    label: Label
    path: str
    last_x: float | None  #: a dot at the last week; None where it does not count
    last_y: float | None
    last: str  #: the last week's value
    alt: str  #: all of it in words


@dataclass(frozen=True)
class ModeTrend:
    """The lines of one mode."""

    label: Label
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Trends:
    """What the page draws."""

    span: str  #: from which week to which
    width: float
    height: float
    modes: tuple[ModeTrend, ...]
    marks: tuple[float, ...]  #: x of each note
    notes: tuple[str, ...]  #: what they say, oldest first
    table: Table  #: all numbers


def trends(weeks: Sequence[WeekBefore], notes: Sequence[Note], zone: ZoneInfo) -> Trends | None:
    """The trends of whole weeks, oldest first; None where fewer than three of them count. A week of which under half
    was seen does not count: it is a gap, and not nothing.
    """
    counted = [week.seen >= SEEN_ENOUGH for week in weeks]
    if sum(counted) < FEWEST:
        return None
    modes = _modes(weeks)
    names = [f"Week {week_of(week.start_us, zone).number}" for week in weeks]
    start, end = weeks[0].start_us, weeks[-1].end_us
    marked = [note for note in notes if start <= note.at_us < end]
    return Trends(
        span=f"{names[0]} to {names[-1].lower()}",
        width=WIDTH,
        height=HEIGHT,
        modes=tuple(ModeTrend(mode_name(mode), _lines(mode, weeks, counted)) for mode in modes),
        marks=tuple(round(PAD + (note.at_us - start) / (end - start) * (WIDTH - 2 * PAD), 1) for note in marked),
        notes=tuple(f"{day_words(note.at_us, zone)}, {note.kind}: {note.text}" for note in marked),
        table=_table(modes, weeks, counted, names),
    )


def _modes(weeks: Sequence[WeekBefore]) -> list[str]:
    """Those of which anything is drawn, most airtime first."""
    return sorted(
        (mode for mode in MODES if any(_counts(week.sums.get(mode)) for week in weeks)),
        key=lambda mode: -sum(week.sums[mode].airtime_s for week in weeks if mode in week.sums),
    )


def drawn_of(mode: str, weeks: Sequence[WeekBefore]) -> tuple[Drawn, ...]:
    """What is drawn of one mode."""
    sums = [week.sums.get(mode, Sums()) for week in weeks]
    inferred = not any(it.timeouts for it in sums) and any(it.timeouts_estimated for it in sums)
    return (*DRAWN[:2], ESTIMATED) if inferred else DRAWN


def _counts(sums: Sums | None) -> bool:
    return sums is not None and any(of(sums) for _, _, of, _ in (*DRAWN, ESTIMATED))


def _lines(mode: str, weeks: Sequence[WeekBefore], counted: Sequence[bool]) -> tuple[Line, ...]:
    found = []
    for figure, title, of, told in drawn_of(mode, weeks):
        values = [of(week.sums.get(mode, Sums())) if its else None for week, its in zip(weeks, counted, strict=True)]
        path, (last_x, last_y) = _drawn(values)
        in_words = [words.UNKNOWN if value is None else told(value) for value in values]
        alt = f"{mode_name(mode).text}, {title.lower()}, week by week: {'; '.join(in_words)}"
        found.append(Line(Label(title, figure), path, last_x, last_y, in_words[-1], alt))
    return tuple(found)


def _drawn(values: Sequence[float | None]) -> tuple[str, tuple[float | None, float | None]]:
    """The path from 0 at the bottom to the highest week at the top, and where its last point lies."""
    most = max((value for value in values if value is not None), default=0.0) or 1.0
    step = (WIDTH - 2 * PAD) / len(values)

    def point_of(at: int, value: float | None) -> tuple[float, float] | None:
        if value is None:
            return None
        return round(PAD + (at + 0.5) * step, 1), round(HEIGHT - PAD - value / most * (HEIGHT - 2 * PAD), 1)

    points = [point_of(at, value) for at, value in enumerate(values)]
    path = ""
    for before, point in zip([None, *points], points, strict=False):
        if point is not None:
            path += f"{'M' if before is None else 'L'}{point[0]:g} {point[1]:g}" + ("h.1" if before is None else "")
    return path, points[-1] or (None, None)


def _cell(sums: Sums, drawn: Sequence[Drawn]) -> str:
    numbers = (told(of(sums)) for _, _, of, told in drawn)
    return " · ".join(numbers) + (" estimated" if drawn[-1] is ESTIMATED else "")


def _table(modes: Sequence[str], weeks: Sequence[WeekBefore], counted: Sequence[bool], names: Sequence[str]) -> Table:
    """Weeks downwards, modes across."""
    rows = []
    for week, its, name in zip(weeks, counted, names, strict=True):
        sums = [week.sums.get(mode, Sums()) for mode in modes]
        cells = [_cell(it, drawn_of(mode, weeks)) for mode, it in zip(modes, sums, strict=True)]
        rows.append(Row(Label(name), tuple(cells if its else [words.UNKNOWN] * len(modes))))
    caption = "On the air · shut-outs · time-outs, by week; a week that was not half seen is not known"
    return Table(caption, (Label("Week"), *(mode_name(mode) for mode in modes)), tuple(rows))
