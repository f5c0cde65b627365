"""The Transmitter page: all that its template gets."""

from dataclasses import dataclass

from server.alerts.folding import folded
from server.alerts.incident import Incident
from server.alerts.limits import Limits
from server.alerts.queries import AlertQueries, LookBack
from server.alerts.states import State
from server.config import Width
from server.store.deliveries import Failing
from server.telling import exposure
from server.telling.caution import CAUTION, SCREENING
from server.telling.moments import instant_words
from server.telling.outside import VisibleText, visible
from server.telling.parts import Fact, Table
from server.telling.transmitter import (
    ANSWER_NOT_KNOWN,
    FOUND_AFTERWARDS,
    TRY_NOTICES,
    as_it_is_set,
    not_got_through,
    nothing_raised,
    would_have_raised,
)
from server.telling.unread import not_understood, nothing_told
from server.web.cell_map import CellMap
from server.web.frame import Frame
from server.web.notes.marks import NotesShown, day_marks, notes_of, notes_shown
from server.web.shell import Choice, Shell
from server.web.source import Source
from server.web.transmitter.charts import Evidence, WorstChart
from server.web.transmitter.duty import MINUTES, as_far_as_seen, duty_of_weeks
from server.web.transmitter.incidents import (
    IncidentView,
    drawn_rows,
    incident_table,
    incident_view,
    incidents_headline,
)
from server.web.weeks import week_of
from shared import spans as sp

WEEKS = 13


@dataclass(frozen=True)
class Question:
    """What the form asks: one limit of the duty rule at another value."""

    width: Width = "6min"
    quiet: bool = True
    percent: int | None = None


@dataclass(frozen=True)
class TransmitterView:
    """What transmitter.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    span: str  #: which weeks
    headline: str  #: what stands raised now
    remarks: tuple[str, ...]  #: what the keeper should know of the alerts themselves
    failing: tuple[tuple[VisibleText, ...], ...]  #: notices that have not got through
    map: CellMap | None  #: duty by hour over the weeks; None where nothing is known
    map_table: Table  #: its numbers
    worst: tuple[WorstChart, ...]  #: worst 6, 30 and 60 minutes of each week, with the thresholds
    worst_table: Table  #: the worst of all
    notes: NotesShown  #: what was done at the station in these weeks
    incidents: tuple[IncidentView, ...]  #: the latest, drawn
    nothing_raised: str  #: said where there is none
    incident_table: Table  #: all of them
    action: str  #: where the form goes
    widths: tuple[Choice, ...]  #: choices of the form
    hours: tuple[Choice, ...]  #: choices of when
    percent: int  #: where its slider stands
    answer: str  #: what it found
    screening: str  #: what the sheet of exposure is not
    exposure: tuple[Fact, ...]  #: power, its average, and what distances come from
    exposure_notes: tuple[str, ...]  #: what is missing
    exposure_limits: Table  #: how far from the antenna each limit is met
    exposure_sources: tuple[str, ...]  #: of the limits
    caution: str  #: what none of this is


def transmitter_view(source: Source, question: Question, now: int, frame: Frame) -> TransmitterView:
    """The last 13 weeks up to `now`. StoreError where the store can't be read."""
    queries = source.alerts()
    limits, zone = queries.limits(), frame.zone
    first = week_of(now, zone).shifted(1 - WEEKS)
    start = first.start_us
    known = source.first_and_last() is not None
    untold = "" if known else nothing_told(not_understood(source.intake()))
    back, sheet = queries.look_back(start, now), source.exposure(start, now)
    every: list[State | Incident] = [*back.kept, *back.replayed]
    incidents = folded(every, limits.timeout + limits.grace)[::-1]
    notes = notes_of(source, start, now)
    weeks = [first.shifted(n) for n in range(WEEKS)]
    duty = duty_of_weeks(back, weeks, now, limits, day_marks(notes, frame), known=known)
    evidence = Evidence(back.counted, back.blind, back.unfinished)
    percent = question.percent or round(100 * _limit(limits, question))
    return TransmitterView(
        shell=frame.shell("Transmitter", "/transmitter"),
        span=f"{WEEKS} weeks, up to {instant_words(now, zone, with_year=True)}",
        headline=incidents_headline(incidents, back, start, now, untold),
        remarks=_remarks(queries, back, start=start),
        failing=tuple(visible(_failing(notice, limits), 600) for notice in queries.failing()),
        map=duty.map,
        map_table=duty.map_table,
        notes=notes_shown(notes, frame),
        worst=duty.worst,
        worst_table=duty.worst_table,
        incidents=tuple(incident_view(row, evidence, now, limits, frame) for row in drawn_rows(incidents)),
        nothing_raised=nothing_raised(untold, as_far_as_seen(back, start, now)),
        incident_table=incident_table(incidents, limits),
        action=frame.to("/transmitter"),
        widths=tuple(Choice(name, f"{minutes} minutes", name == question.width) for name, minutes in MINUTES.items()),
        hours=(Choice("quiet", "in the quiet hours", question.quiet), Choice("day", "by day", not question.quiet)),
        percent=percent,
        answer=_answer(queries, back, question, percent, limits, start, now),
        screening=SCREENING,
        exposure=exposure.set_up_facts(sheet),
        exposure_notes=exposure.notes(sheet),
        exposure_limits=exposure.limits_table(sheet),
        exposure_sources=exposure.sources(sheet),
        caution=CAUTION,
    )


def _limit(limits: Limits, question: Question) -> float:
    """The limit as it is set, of what the form asks."""
    return (limits.duty_night if question.quiet else limits.duty_day)[question.width]


def _remarks(queries: AlertQueries, back: LookBack, start: int) -> tuple[str, ...]:
    remarks = [] if queries.notices_go_somewhere() else [TRY_NOTICES]
    if back.replayed and (back.watched_since is None or back.watched_since > start):
        remarks.append(FOUND_AFTERWARDS)
    return tuple(remarks)


def _failing(notice: Failing, limits: Limits) -> str:
    return not_got_through(notice.title, notice.label, notice.tries, notice.trouble, notice.next, limits.zone)


def _answer(
    queries: AlertQueries, back: LookBack, question: Question, percent: int, limits: Limits, start: int, now: int
) -> str:
    if not sp.length(sp.complement(back.blind, start, now)):
        return ANSWER_NOT_KNOWN

    def alerts(limit: float) -> int:
        return queries.would_raise(question.width, question.quiet, limit, start, now)

    asked = would_have_raised(percent, MINUTES[question.width], quiet=question.quiet, alerts=alerts(percent / 100))
    if question.percent is None:
        return f"{asked} That is the limit as it is set."
    given = _limit(limits, question)
    return f"{asked} {as_it_is_set(given, alerts(given))}"
