"""The month in words and numbers as they are shown: the template of the PDF and that of the Month page get the same
sheet.
"""

from dataclasses import dataclass

from server.analytics.compare import CHANNEL
from server.report import tables
from server.report.choice import advice, advice_caution, findings, headline, is_known, no_advice
from server.report.completeness import completeness_words
from server.report.every_figure import mode_figures, pair_figures, single_figures
from server.report.glossary import GLOSSARY, Term
from server.report.month import Month, month_title
from server.telling import shut_outs, words
from server.telling.caution import CAUTION
from server.telling.duty import duty_table
from server.telling.modes import by_airtime, mode_name
from server.telling.moments import day_name
from server.telling.parts import Fact, Label, Table
from server.telling.sentences import Sentence
from server.telling.talk import talk_facts
from server.telling.timeouts import timeout_table
from server.telling.traffic import busy_facts
from server.telling.words import SCALE_WORDS

SCALES = (900, 1800, 3600, 7200)  #: what a full cell of the map may stand for, seconds


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


@dataclass(frozen=True)
class Sheet:
    """All that is shown."""

    name: str
    title: str
    repeater: str
    period: str
    known: bool
    headline: Sentence
    key: tuple[Fact, ...]
    findings: tuple[Sentence, ...]
    advice: tuple[Sentence, ...]
    advice_caution: str  #: what goes with the advice; empty
    no_advice: str
    shares: tuple[Share, ...]
    modes: Table
    few_note: str
    trends: tuple[Trend, ...]
    map: HourCells | None
    busy: tuple[Fact, ...]
    shut_outs: Table
    risks: Table
    waiters: Fact
    idle_hold: Fact
    timeout: str
    timeouts: Table
    talk: tuple[Fact, ...]
    wide: Table
    links: Table
    duty: Table
    rating: str
    incidents: Table
    no_incidents: str
    log: tuple[Fact, ...]
    completeness: tuple[str, ...]
    caution: str
    singles: tuple[tuple[str, str], ...]
    by_mode: Table
    pairs: tuple[tuple[str, ...], ...]
    glossary: tuple[Term, ...]


def sheet_of(month: Month) -> Sheet:
    """A month as it is shown."""
    figures = month.figures
    first, last = month.days[0], month.days[-1]
    waiters, idle_hold = shut_outs.waiting_facts(figures)
    return Sheet(
        name=month.name,
        title=month.title,
        repeater=f"{month.callsign} {month.place}".strip(),
        period=f"{first.day} to {last.day} {month.title}, {month.zone.key} time",
        known=is_known(month),
        headline=headline(month),
        key=tables.key_facts(month),
        findings=findings(month),
        advice=advice(month),
        advice_caution=advice_caution(month),
        no_advice=no_advice(month),
        shares=_shares(month),
        modes=tables.mode_table(month),
        few_note=tables.FEW_NOTE,
        trends=_trends(month),
        map=_map(month),
        busy=busy_facts(figures),
        shut_outs=shut_outs.holder_table(figures),
        risks=shut_outs.risk_table(figures),
        waiters=waiters,
        idle_hold=idle_hold,
        timeout=words.duration(month.timers.timeout_s),
        timeouts=timeout_table(figures),
        talk=talk_facts(figures, month.timers.courtesy_gap_s, bool(month.timers.wide)),
        wide=tables.wide_table(month),
        links=tables.link_table(month),
        duty=duty_table(figures, month.zone),
        rating=f"The maker’s rating in the settings is {words.percent(month.duty_rating)} of an hour."
        if month.duty_rating < 1
        else "",
        incidents=tables.incident_table(month),
        no_incidents="No alert was raised." if month.watched else "The alert rules find nothing in the month’s log.",
        log=tables.log_facts(month),
        completeness=completeness_words(month),
        caution=CAUTION,
        singles=single_figures(month),
        by_mode=mode_figures(month),
        pairs=pair_figures(month),
        glossary=GLOSSARY,
    )


def _shares(month: Month) -> tuple[Share, ...]:
    whole = month.figures.channel.airtime_s
    return tuple(
        Share(mode_name(mode), min(1.0, its.airtime_s / whole), words.percent(its.airtime_s / whole))
        for mode, its in by_airtime(month.figures)
        if whole and its.airtime_s
    )


def _trends(month: Month) -> tuple[Trend, ...]:
    """The channel first, then each mode that was on the air in any of the months, this month's busiest first."""
    ever = [mode for mode in month.changes if mode != CHANNEL]
    now = month.trend[-1].airtime_s
    ever.sort(key=lambda mode: -now.get(mode, 0.0))
    return tuple(_trend(month, mode) for mode in [CHANNEL, *ever])


def _trend(month: Month, mode: str) -> Trend:
    label = Label("Channel", "channel airtime") if mode == CHANNEL else mode_name(mode)
    airtimes = [one.airtime_s.get(mode, 0.0) if one.seen else None for one in month.trend]
    most = max((value for value in airtimes if value is not None), default=0.0)
    columns = tuple(
        Column(
            month_title(one.name)[:3],
            one.name[:4],
            words.hours(value),
            None if value is None else (value / most if most else 0.0),
            0 < one.seen < 0.5,
        )
        for one, value in zip(month.trend, airtimes, strict=True)
    )
    said = ", ".join(
        f"{column.month} {column.year} {column.hours if column.height is not None else 'not seen'}"
        for column in columns
    )
    return Trend(label, columns, f"{label.text}, hours on the air in each of thirteen months: {said}.")


def _map(month: Month) -> HourCells | None:
    seen = [value for row in month.hours for value in row if value is not None]
    if not seen:
        return None
    most = max(seen)
    scale = next((step for step in SCALES if most <= step), SCALES[-1])
    return HourCells(
        days=tuple(day_name(day) for day in month.days),
        cells=tuple(tuple(None if value is None else min(1.0, value / scale) for value in row) for row in month.hours),
        numbers=tuple(tuple(words.minutes(value) for value in row) for row in month.hours),
        full=SCALE_WORDS[scale],
        alt=_map_alt(month),
    )


def _map_alt(month: Month) -> str:
    """The map in words: the fullest hours, and the mean of each part of the day."""

    def mean(first: int, after: int) -> str:
        cells = [row[hour] for row in month.hours for hour in range(first, after)]
        told = [value for value in cells if value is not None]
        return f"{sum(told) / len(told) / 60:.0f} min" if told else "not seen"

    parts = (
        ("night, 0 to 6", 0, 6),
        ("morning, 6 to 12", 6, 12),
        ("afternoon, 12 to 18", 12, 18),
        ("evening, 18 to 24", 18, 24),
    )
    said = "; ".join(f"{name}: {mean(first, after)}" for name, first, after in parts)
    return f"Time on the air in each clock hour of each day of {month.title}. Mean minutes in an hour: {said}."
