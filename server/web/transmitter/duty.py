"""How heavily the transmitter was keyed in the weeks of its page."""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from server.alerts.limits import WIDTHS, Limits
from server.alerts.queries import LookBack
from server.analytics.dayhour import day_hour_map
from server.config import Width
from server.telling import words
from server.telling.moments import clock_of, instant_words
from server.telling.numbers import minutes_set
from server.telling.parts import Label, Row, Table
from server.web.cell_map import WEEKS as WEEKS_GRID
from server.web.cell_map import CellMap, cell_map, shares_of
from server.web.notes.marks import DayMark
from server.web.transmitter.charts import WorstChart, worst_chart
from server.web.weeks import Week
from shared import spans as sp
from shared.zones import SECOND

ALL_SEEN = 0.995
MINUTES: dict[Width, int] = {"6min": 6, "30min": 30, "60min": 60}


@dataclass(frozen=True)
class DutyOfWeeks:
    """Duty as the page draws it, with its numbers."""

    map: CellMap | None  #: None where nothing is known
    map_table: Table
    worst: tuple[WorstChart, ...]
    worst_table: Table


def duty_of_weeks(
    back: LookBack, weeks: Sequence[Week], now: int, limits: Limits, marks: Sequence[DayMark], *, known: bool
) -> DutyOfWeeks:
    """Of whole weeks, of which the last may not be over; `known`: whether there is any line of a log."""
    start, names = weeks[0].start_us, [f"Week {week.number}" for week in weeks]
    placed = [((mark.day - weeks[0].monday).days / 7 + mark.hour / 168, mark) for mark in marks]
    rows = [(int(after), mark.hour, mark.letter) for after, mark in placed]
    across = [(after, mark.letter) for after, mark in placed]
    shares = _by_hour(back, start, now, limits.zone, len(weeks))
    worst = {
        name: [_worst(back, width, week.start_us, min(now, week.end_us)) for week in weeks]
        for name, width in WIDTHS.items()
    }
    return DutyOfWeeks(
        map=_map(shares, names, rows) if known else None,
        map_table=_map_table(shares, names),
        worst=tuple(_worst_chart(name, worst[name], limits, names, across) for name in WIDTHS) if known else (),
        worst_table=_worst_table(back, start, now, limits),
    )


def as_far_as_seen(back: LookBack, start: int, now: int) -> str:
    """What a count of these weeks is worth where not all of them were seen."""
    seen = sp.length(sp.complement(back.blind, start, now))
    if seen >= ALL_SEEN * (now - start):
        return ""
    return f", as far as the log was seen ({words.about(seen / SECOND)} of {words.about((now - start) / SECOND)})"


def _worst(back: LookBack, width: int, start: int, end: int) -> float | None:
    """The greatest keyed share of a stretch of [start, end); None where it is not known."""
    if end <= start or not sp.length(sp.complement(back.blind, start, end)):
        return None
    most = sp.fullest(back.counted, width, start, end)[0]
    if not most and any(start <= at < end for at in back.unfinished):
        return None  # nothing but overs of which nobody knows how long they were
    return most / width


def _by_hour(back: LookBack, start: int, end: int, zone: ZoneInfo, weeks: int) -> np.ndarray:
    """The fullest of each local clock hour in each week, shape (weeks, 24)."""
    daily = day_hour_map(back.counted, (start, end), zone, back.blind).share
    shares = np.full((weeks * 7, 24), np.nan)
    shares[: len(daily)] = daily[: weeks * 7]
    by_week = shares.reshape(weeks, 7, 24)
    fullest = np.where(np.isnan(by_week), -1.0, by_week).max(axis=1)
    return np.where(fullest < 0, np.nan, fullest)


def _map(shares: np.ndarray, names: Sequence[str], marks: Sequence[tuple[int, float, str]]) -> CellMap | None:
    """None where no hour was seen."""
    return (
        cell_map(shares_of(shares), names, WEEKS_GRID, "the whole hour", marks) if np.isfinite(shares).any() else None
    )


def _map_table(shares: np.ndarray, names: Sequence[str]) -> Table:
    rows = tuple(
        Row(
            Label(f"{hour:02d}:00"),
            tuple(words.bare_percent(None if np.isnan(share) else share) for share in shares[:, hour]),
        )
        for hour in range(24)
    )
    heads = tuple(Label(name.removeprefix("Week ")) for name in names)
    return Table(
        "Each local hour on the day of the week on which it was most heavily keyed, in percent",
        (Label("from", "keyed time"), *heads),
        rows,
    )


def _thresholds(name: Width, limits: Limits) -> list[tuple[str, float, str]]:
    drawn = [
        ("day", limits.duty_day[name], f"by day {words.percent(limits.duty_day[name])}"),
        ("quiet", limits.duty_night[name], f"in the quiet hours {words.percent(limits.duty_night[name])}"),
    ]
    if name == "60min" and limits.rating < 1:
        drawn.append(("rating", limits.rating, f"rated for {words.percent(limits.rating)}"))
    return drawn


def _worst_chart(
    name: Width,
    worst: Sequence[float | None],
    limits: Limits,
    names: Sequence[str],
    notes: Sequence[tuple[float, str]],
) -> WorstChart:
    minutes = MINUTES[name]
    seen = [share for share in worst if share is not None]
    unseen = len(worst) - len(seen)
    says = (
        f"The worst {minutes} minutes of each week, {names[0]} to {names[-1]}; the worst of all "
        f"{words.percent(max(seen, default=None))}."
    )
    if unseen:
        says += f" Of {words.count(unseen, 'week')} nothing is known."
    return worst_chart(
        f"Worst {minutes_set(minutes)} of each week", worst, _thresholds(name, limits), names, says, notes
    )


def _worst_table(back: LookBack, start: int, end: int, limits: Limits) -> Table:
    rows = []
    for name, width in WIDTHS.items():
        most, begun, over = sp.fullest(back.counted, width, start, end)
        when = f"{instant_words(begun, limits.zone)} to {clock_of(over, limits.zone)}" if most else "–"
        share = _worst(back, width, start, end)
        cells = (
            words.percent(share),
            when,
            words.percent(limits.duty_day[name]),
            words.percent(limits.duty_night[name]),
        )
        rows.append(Row(Label(minutes_set(MINUTES[name])), cells))
    head = (Label("Length"), Label("Keyed", "duty"), Label("When"), Label("Limit by day"), Label("Quiet"))
    return Table(
        "The transmitter’s most heavily keyed 6, 30 and 60 minutes of these weeks, and the limits",
        head,
        tuple(rows),
        frozenset({1}),
    )
