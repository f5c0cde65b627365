"""What the pictures of a month show, for the PDF and the Month page to draw; each tells the same in words."""

from dataclasses import dataclass

from server.analytics.compare import CHANNEL
from server.report.month import Month, month_title
from server.telling import words
from server.telling.modes import by_airtime, mode_name
from server.telling.moments import day_name
from server.telling.parts import Label


@dataclass(frozen=True)
class Column:
    """One month of a trend: hours, and their height as a share of the highest; None where the month was not seen."""

    month: str  #: `Oct`
    year: str
    hours: str
    height: float | None
    half_seen: bool  #: under half of it was seen


@dataclass(frozen=True)
class Trend:
    """Thirteen months of the channel or of one mode, the last one this month; `alt` tells the same in words."""

    label: Label
    columns: tuple[Column, ...]
    alt: str


@dataclass(frozen=True)
class HourCells:
    """The day-by-hour map: for each day, 24 fillings from 0 to 1; None: not seen, or the day has no such hour."""

    days: tuple[str, ...]
    cells: tuple[tuple[float | None, ...], ...]
    numbers: tuple[tuple[str, ...], ...]  #: what the cells are in numbers
    full: str  #: what a full cell stands for
    alt: str


@dataclass(frozen=True)
class Share:
    """A mode's share of the channel's airtime, 0 to 1."""

    label: Label
    value: float
    text: str


def shares_of(month: Month) -> tuple[Share, ...]:
    whole = month.figures.channel.airtime_s
    return tuple(
        Share(mode_name(mode), min(1.0, its.airtime_s / whole), words.percent(its.airtime_s / whole))
        for mode, its in by_airtime(month.figures)
        if whole and its.airtime_s
    )


def trends_of(month: Month) -> tuple[Trend, ...]:
    """The channel first, then each mode that was on the air in any of the months, this month's busiest first."""
    ever = [mode for mode in month.changes if mode != CHANNEL]
    now = month.trend[-1].airtime_s
    ever.sort(key=lambda mode: -now.get(mode, 0.0))
    return tuple(_trend(month, mode) for mode in [CHANNEL, *ever])


def _trend(month: Month, mode: str) -> Trend:
    label = Label("Channel", "channel airtime") if mode == CHANNEL else mode_name(mode)
    airtimes = [one.airtime_s.get(mode, 0.0) if one.seen else None for one in month.trend]
    most = max((value for value in airtimes if value is not None), default=0.0) or 1.0
    columns = tuple(
        Column(
            month_title(one.name)[:3],
            one.name[:4],
            words.hours(value),
            None if value is None else value / most,
            0 < one.seen < 0.5,
        )
        for one, value in zip(month.trend, airtimes, strict=True)
    )
    told = ", ".join(f"{column.month} {column.year} {_told(column)}" for column in columns)
    return Trend(label, columns, f"{label.text}, hours on the air in each of thirteen months: {told}.")


def _told(column: Column) -> str:
    return "not seen" if column.height is None else column.hours


def map_of(month: Month) -> HourCells | None:
    """The day-by-hour map; None where nothing was seen."""
    seen = [value for row in month.hours for value in row if value is not None]
    if not seen:
        return None
    scale = words.scale_of(max(seen))

    def filling(seconds: float | None) -> float | None:
        return None if seconds is None else min(1.0, seconds / scale)

    return HourCells(
        days=tuple(day_name(day) for day in month.days),
        cells=tuple(tuple(map(filling, row)) for row in month.hours),
        numbers=tuple(tuple(map(words.minutes, row)) for row in month.hours),
        full=words.SCALE_WORDS[scale],
        alt=_map_alt(month),
    )


def _map_alt(month: Month) -> str:
    """The map in words: the mean of each part of the day."""

    def mean(first: int, after: int) -> str:
        seen = [value for row in month.hours for value in row[first:after] if value is not None]
        return words.whole_minutes(sum(seen) / len(seen)) if seen else "not seen"

    parts = (
        ("night, 0 to 6", 0, 6),
        ("morning, 6 to 12", 6, 12),
        ("afternoon, 12 to 18", 12, 18),
        ("evening, 18 to 24", 18, 24),
    )
    told = "; ".join(f"{name}: {mean(first, after)}" for name, first, after in parts)
    return f"Time on the air in each clock hour of each day of {month.title}. Mean minutes in an hour: {told}."
