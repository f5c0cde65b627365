"""The users' sheet: one page that a keeper can hand out or pin to a notice board. It names nobody, and counts no
station.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from server.analytics.figure_types import Figures
from server.analytics.free_time import FreeTime
from server.report.charts import HourCells
from server.telling import handout as telling
from server.telling import words
from server.telling.modes import mode_name
from server.telling.parts import Fact, Label, Table
from server.telling.targets import Reach
from shared.events import MODES
from shared.timers import Timers

WEEKS = 13  #: whole weeks that it is made from, at most
PAGING = ("pocsag",)  #: nobody calls in them


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
    free = {mode: its for mode, its in free.items() if MODES[mode] not in PAGING}
    by_airtime = sorted(free, key=lambda mode: -(_airtime(figures, mode)))
    return Handout(
        title=telling.TITLE,
        repeater=repeater,
        period=telling.period(figures),
        end_us=figures.window.end_us,
        headline=telling.headline(free, by_airtime),
        free=tuple(_mode_free(mode, free[mode]) for mode in by_airtime),
        holds=telling.hold_table(by_airtime, timers),
        rules=(telling.timeout_fact(figures, timers), telling.gap_fact(figures, timers)),
        reaches=telling.reach_table(reaches),
    )


def _airtime(figures: Figures, mode: int) -> float:
    its = figures.modes.get(MODES[mode])
    return (its.airtime_s or 0.0) if its else 0.0


def _mode_free(mode: int, free: FreeTime) -> ModeFree:
    label, sentence = mode_name(MODES[mode]), telling.free_sentence(free)
    by_hour = None if free.fullest() is None else _map(free, telling.map_alt(label, sentence))
    return ModeFree(label, MODES[mode], sentence, by_hour)


def _map(free: FreeTime, alt: str) -> HourCells:
    known = [[None if share != share else float(share) for share in row] for row in free.by_hour]

    def taken(share: float | None) -> float | None:
        return None if share is None else 1 - share

    return HourCells(
        days=telling.DAYS,
        cells=tuple(tuple(map(taken, row)) for row in known),
        numbers=tuple(tuple(map(words.bare_percent, row)) for row in known),
        full=telling.WHOLE_HOUR,
        alt=alt,
    )
