"""The month in words and numbers as they are shown: the template of the PDF and that of the Month page get the same
sheet.
"""

from dataclasses import dataclass

from server.report.annex import Annex, annex_of
from server.report.charts import HourCells, Share, Trend, map_of, shares_of, trends_of
from server.report.choice import advice, advice_caution, findings, headline, is_known, no_advice, period_of
from server.report.every_figure import mode_figures, pair_figures, single_figures
from server.report.month import Month
from server.report.tables import incident_table, note_table
from server.telling import shut_outs, words
from server.telling.caution import CAUTION
from server.telling.channel import key_facts, pages_words
from server.telling.completeness import completeness_words, no_incidents, rating_words
from server.telling.duty import duty_table
from server.telling.glossary import GLOSSARY, Term
from server.telling.lines import log_facts
from server.telling.mode_tables import FEW_NOTE, use_table
from server.telling.month_tables import link_table, wide_table
from server.telling.parts import Fact, Table
from server.telling.sentences import Sentence
from server.telling.talk import talk_facts
from server.telling.timeouts import timeout_table
from server.telling.traffic import busy_facts


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
    pages: str  #: how many, and what is estimated of them; empty
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
    annex: Annex | None
    incidents: Table
    no_incidents: str
    notes: Table  #: what was done at the station; often without rows
    log: tuple[Fact, ...]
    completeness: tuple[str, ...]
    caution: str
    singles: tuple[tuple[str, str], ...]
    by_mode: Table
    pairs: tuple[tuple[str, ...], ...]
    glossary: tuple[Term, ...]


def sheet_of(month: Month) -> Sheet:
    """A month as it is shown."""
    figures, period = month.figures, period_of(month)
    first, last = month.days[0], month.days[-1]
    waiters, idle_hold = shut_outs.waiting_facts(figures)
    return Sheet(
        name=month.name,
        title=month.title,
        repeater=f"{month.callsign} {month.place}".strip(),
        period=f"{first.day} to {last.day} {month.title}, {month.zone.key} time",
        known=is_known(month),
        headline=headline(month),
        key=key_facts(figures),
        findings=findings(month),
        advice=advice(month),
        advice_caution=advice_caution(month),
        no_advice=no_advice(month),
        shares=shares_of(month),
        modes=use_table(period),
        few_note=FEW_NOTE,
        pages=pages_words(figures.channel),
        trends=trends_of(month),
        map=map_of(month),
        busy=busy_facts(figures),
        shut_outs=shut_outs.holder_table(figures),
        risks=shut_outs.risk_table(figures),
        waiters=waiters,
        idle_hold=idle_hold,
        timeout=words.duration(month.timers.timeout_s),
        timeouts=timeout_table(figures),
        talk=talk_facts(figures, month.timers.courtesy_gap_s, bool(month.timers.wide)),
        wide=wide_table(month.wide),
        links=link_table(month.links),
        duty=duty_table(figures, month.zone),
        rating=rating_words(month.duty_rating),
        annex=None if month.exposure is None else annex_of(month.exposure),
        incidents=incident_table(month),
        no_incidents=no_incidents(watched=month.watched),
        notes=note_table(month),
        log=log_facts(figures, month.completeness.seen),
        completeness=completeness_words(figures, month.completeness.seen, over=month.completeness.over),
        caution=CAUTION,
        singles=single_figures(month),
        by_mode=mode_figures(month),
        pairs=pair_figures(month),
        glossary=GLOSSARY,
    )
