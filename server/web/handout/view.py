"""The users' sheet as a page, with the paper to print."""

import datetime as dt
from dataclasses import dataclass

from server.analytics.activity import Window
from server.analytics.free_time import free_time
from server.report.handout import WEEKS, Handout, handout
from server.telling.handout import NO_WEEK, NO_WEEK_LOOK, free_table
from server.telling.parts import Label, Table
from server.telling.unread import not_understood, nothing_told, what_to_read
from server.web.cell_map import MONTH, CellMap, cell_map
from server.web.frame import Frame
from server.web.shell import Shell
from server.web.source import Source
from server.web.weeks import week_of
from shared.zones import midnight


@dataclass(frozen=True)
class FreeView:
    """One mode: its sentence, map and numbers."""

    label: Label
    free: str
    alt: str
    map: CellMap | None  #: None where too little was seen
    numbers: Table | None


@dataclass(frozen=True)
class HandoutView:
    """What handout.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    sheet: Handout | None  #: what it says; None before the log holds one whole week
    missing: str  #: why there is no sheet; empty where there is one
    step: str  #: what to do about it
    pdf: str  #: where the paper is
    modes: tuple[FreeView, ...]  #: by airtime, the most first


def window_of(source: Source) -> Window | None:
    """The last whole local weeks of the log, at most 13; None where there is none. StoreError where the store can't be
    read.
    """
    bounds, zone = source.first_and_last(), source.station().zone
    if bounds is None:
        return None
    after = min(week_of(source.now(), zone).monday, week_of(bounds[1], zone).shifted(1).monday)
    first = max(week_of(bounds[0], zone).monday, after - dt.timedelta(weeks=WEEKS))
    return (midnight(first, zone), midnight(after, zone)) if first < after else None


def handout_of(source: Source, window: Window) -> Handout:
    """The sheet of a window."""
    station = source.station()
    free = free_time(source.activity(*window), window, station.timers, station.zone)
    repeater = f"{station.callsign} {station.name}".strip()
    return handout(repeater, source.figures(*window), free, station.timers, station.names.reaches)


def handout_view(source: Source, window: Window | None, frame: Frame) -> HandoutView:
    """Asks the source for the weeks and puts the page together. StoreError where the store can't be read."""
    shell = frame.shell("For users", None)
    if window is None:
        return HandoutView(shell, None, *_missing(source), "", ())
    sheet = handout_of(source, window)
    modes = tuple(
        FreeView(
            mode.label,
            mode.free,
            mode.map.alt if mode.map else "",
            cell_map(mode.map.cells, mode.map.days, MONTH, mode.map.full) if mode.map else None,
            free_table(mode.label, mode.map.days, mode.map.numbers) if mode.map else None,
        )
        for mode in sheet.free
    )
    return HandoutView(shell, sheet, "", "", frame.to("/handout.pdf"), modes)


def _missing(source: Source) -> tuple[str, str]:
    """Why there is no sheet, and what to do about it."""
    if source.first_and_last() is not None:
        return NO_WEEK, NO_WEEK_LOOK
    lines = not_understood(source.intake())
    return nothing_told(lines), what_to_read(lines)
