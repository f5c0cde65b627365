"""The Transmitter page: all that its template gets."""

from dataclasses import dataclass

from server.alerts.folding import folded
from server.alerts.incident import Incident
from server.alerts.limits import Limits
from server.alerts.queries import AlertQueries, LookBack
from server.alerts.states import State
from server.config import Width
from server.store.deliveries import Failing
from server.telling import exposure, words
from server.telling.caution import CAUTION, SCREENING
from server.telling.moments import instant_words
from server.telling.numbers import percent_set
from server.telling.outside import VisibleText, visible
from server.telling.parts import Fact, Table
from server.telling.unread import NO_LINE, NONE_UNDERSTOOD, NOT_READ, not_understood, nothing_told
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
    desk = source.alerts()
    limits, zone = desk.limits(), frame.zone
    first = week_of(now, zone).shifted(1 - WEEKS)
    start = first.start_us
    known = source.first_and_last() is not None
    untold = "" if known else nothing_told(not_understood(source.intake()))
    back, sheet = desk.look_back(start, now), source.exposure(start, now)
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
        remarks=_remarks(desk, back, zone_start=start),
        failing=tuple(visible(_failed(delivery, limits), 600) for delivery in desk.failing()),
        map=duty.map,
        map_table=duty.map_table,
        notes=notes_shown(notes, frame),
        worst=duty.worst,
        worst_table=duty.worst_table,
        incidents=tuple(incident_view(row, evidence, now, limits, frame) for row in drawn_rows(incidents)),
        nothing_raised=_nothing_raised(untold, as_far_as_seen(back, start, now)),
        incident_table=incident_table(incidents, limits),
        action=frame.to("/transmitter"),
        widths=tuple(Choice(name, f"{minutes} minutes", name == question.width) for name, minutes in MINUTES.items()),
        hours=(Choice("quiet", "in the quiet hours", question.quiet), Choice("day", "by day", not question.quiet)),
        percent=percent,
        answer=_answer(desk, back, question, percent, limits, start, now),
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


def _nothing_raised(untold: str, seen: str) -> str:
    if untold:
        return f"Nothing is known of these weeks: {NO_LINE if untold == NOT_READ else NONE_UNDERSTOOD}."
    return f"The rules raised nothing in these weeks{seen}."


def _remarks(desk: AlertQueries, back: LookBack, zone_start: int) -> tuple[str, ...]:
    said = []
    if not desk.notices_go_somewhere():
        said.append(
            "No notice is sent to anybody: set `notify` under `[alerts]` in the station file, then try `airtally "
            "alerts test`."
        )
    if back.replayed and (back.watched_since is None or back.watched_since > zone_start):
        said.append(
            "Incidents from before `airtally serve` was started were found in the log afterwards; no notices were sent."
        )
    return tuple(said)


def _failed(one: Failing, limits: Limits) -> str:
    again = (
        f"tried again after {instant_words(one.next, limits.zone)}"
        if one.next is not None
        else "tried again at the next start"
    )
    return (
        f"“{one.title}” has not got through to {one.label} ({words.count(one.tries, 'try', 'tries')}): "
        f"{one.trouble} It is {again}."
    )


def _answer(
    desk: AlertQueries, back: LookBack, question: Question, percent: int, limits: Limits, start: int, now: int
) -> str:
    if not sp.length(sp.complement(back.blind, start, now)):
        return "How many alerts another limit would have raised is not known: no log tells of these weeks."
    given = _limit(limits, question)
    hours = "in the quiet hours" if question.quiet else "by day"
    count = desk.would_raise(question.width, question.quiet, percent / 100, start, now)
    asked = (
        f"With a limit of {percent_set(percent)} of {MINUTES[question.width]} minutes {hours}: "
        f"{words.count(count, 'alert')} in these weeks."
    )
    if question.percent is None:
        return f"{asked} That is the limit as it is set."
    return (
        f"{asked} As it is set ({words.percent(given)}): "
        f"{words.count(desk.would_raise(question.width, question.quiet, given, start, now), 'alert')}."
    )
