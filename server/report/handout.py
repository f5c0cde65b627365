"""The users' sheet: one page that a keeper can hand out or pin to a notice board. It names nobody, and counts no
station.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from server.analytics.figure_types import Figures
from server.analytics.free_time import FreeTime
from server.report.charts import HourCells
from server.telling import words
from server.telling.modes import mode_name
from server.telling.moments import day_words
from server.telling.numbers import seconds_set
from server.telling.parts import Fact, Label, Row, Table
from server.telling.targets import Reach
from shared.events import MODES
from shared.timers import Timers
from shared.zones import SECOND

WEEKS = 13  #: whole weeks that it is made from, at most
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
PAGING = ("pocsag",)  #: nobody calls in them
REACHES = {"local": "this repeater only", "regional": "repeaters of the region", "wide": "far beyond the region"}


@dataclass(frozen=True)
class ModeFree:
    """When one mode finds the repeater free."""

    label: Label
    mode: str
    free: str  #: one sentence
    map: HourCells | None  #: 7 rows: how much of the hour is taken; its numbers say how much is free, in percent


@dataclass(frozen=True)
class Handout:
    """What the page and the PDF draw."""

    title: str
    repeater: str
    period: str  #: from which days it is made
    end_us: int
    headline: str
    free: tuple[ModeFree, ...]
    holds: Table
    rules: tuple[Fact, ...]  #: time-out and gap
    reaches: Table  #: how far each target goes


def handout(
    repeater: str, figures: Figures, free: dict[int, FreeTime], timers: Timers, reaches: Iterable[Reach]
) -> Handout:
    """The sheet of a window; `free` is empty where nothing of it was seen."""
    window = figures.window
    first, last = (day_words(instant, window.zone) for instant in (window.start_us, window.end_us - SECOND))
    free = {mode: found for mode, found in free.items() if MODES[mode] not in PAGING}
    by_airtime = sorted(free, key=lambda mode: -(_airtime(figures, mode)))
    return Handout(
        title="Using the repeater",
        repeater=repeater,
        period=f"From the repeater’s own log, {first} to {last}",
        end_us=window.end_us,
        headline=_headline(free, by_airtime),
        free=tuple(_mode_free(mode, free[mode]) for mode in by_airtime),
        holds=_holds(by_airtime, timers),
        rules=(_timeout(figures, timers), _gap(figures, timers)),
        reaches=_reach_table(reaches),
    )


def _airtime(figures: Figures, mode: int) -> float:
    its = figures.modes.get(MODES[mode])
    return (its.airtime_s or 0.0) if its else 0.0


def _headline(free: dict[int, FreeTime], modes: list[int]) -> str:
    if not modes:
        return "The log of these weeks does not show when the repeater is free."
    least = min(modes, key=lambda mode: free[mode].share)
    most = max(modes, key=lambda mode: free[mode].share)
    if least == most:
        return f"The repeater is free {words.percent(free[most].share)} of the time."
    return (
        f"The repeater is free between {words.percent(free[least].share)} ({mode_name(MODES[least]).text}) and "
        f"{words.percent(free[most].share)} ({mode_name(MODES[most]).text}) of the time, depending on your mode."
    )


def _mode_free(mode: int, free: FreeTime) -> ModeFree:
    label = mode_name(MODES[mode])
    sentence = f"Free {words.percent(free.share)} of the time"
    worst = free.fullest()
    if worst is None:
        sentence += "; too little was seen to tell it by the hour."
    elif worst[2] >= 1:
        sentence += "."
    else:
        weekday, hour, share = worst
        sentence += (
            f"; least on {WEEKDAYS[weekday]}s, {hour:02d}:00 to {(hour + 1) % 24:02d}:00: {words.percent(share)}."
        )
    return ModeFree(label, MODES[mode], sentence, None if worst is None else _map(free, label, sentence))


def _map(free: FreeTime, label: Label, sentence: str) -> HourCells:
    known = [[None if share != share else float(share) for share in row] for row in free.by_hour]

    def taken(share: float | None) -> float | None:
        return None if share is None else 1 - share

    return HourCells(
        days=tuple(name[:3] for name in WEEKDAYS),
        cells=tuple(tuple(map(taken, row)) for row in known),
        numbers=tuple(tuple(map(words.bare_percent, row)) for row in known),
        full="the whole hour",
        alt=f"{label.text} by day of the week and hour of the day. {sentence}",
    )


def _holds(modes: list[int], timers: Timers) -> Table:
    rows = tuple(Row(mode_name(MODES[mode]), (words.duration(timers.hold_s[mode]),)) for mode in modes)
    return Table("The hold of each mode", (Label("Mode"), Label("Stays")), rows)


def _timeout(figures: Figures, timers: Timers) -> Fact:
    counted = sum(its.timeouts for its in figures.modes.values())
    estimated = sum(its.timeouts_estimated for its in figures.modes.values())
    limit = words.duration(timers.timeout_s)
    if not figures.channel.seen_s:
        return Fact(Label("Time-out"), limit, "An over that is longer is cut off.")
    cut = f"{words.count(counted, 'over')} {words.verb(counted, 'was', 'were')} cut off in these weeks"
    more = f", and by estimate {words.whole_number(estimated)} more" if estimated else ""
    return Fact(Label("Time-out"), limit, f"An over that is longer is cut off. {cut}{more}.")


def _gap(figures: Figures, timers: Timers) -> Fact:
    short = figures.talk.short_gap_share if figures.talk else None
    left = "How often it was left is not known."
    if short is not None:
        left = f"It was left in {words.percent(1 - short)} of the pauses."
    return Fact(
        Label("Gap between overs"),
        f"at least {seconds_set(timers.courtesy_gap_s)}",
        f"Wait so long before you answer, so that others can call in. {left}",
    )


def _reach_table(reaches: Iterable[Reach]) -> Table:
    rows = tuple(
        Row(Label(reach.called), (mode_name(reach.mode).text if reach.mode else "any", REACHES[reach.reach]))
        for reach in reaches
    )
    return Table(
        "Targets as the keeper has named them",
        (Label("Target"), Label("Mode"), Label("Goes to")),
        rows,
        frozenset({0, 1}),
    )
