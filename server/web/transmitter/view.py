"""The Transmitter page: all that its template gets."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from server.alerts.folding import Folded, folded, in_rows
from server.alerts.incident import Incident
from server.alerts.limits import WIDTHS, Limits
from server.alerts.queries import AlertQueries, LookBack
from server.alerts.states import DIGEST_ONLY, State
from server.analytics.dayhour import day_hour_map
from server.config import Width
from server.store.deliveries import Failing
from server.telling import exposure, words
from server.telling.caution import CAUTION, SCREENING
from server.telling.incidents import (
    counted_words,
    dates_words,
    followed_words,
    incident_row,
    lasted_words,
    subject_words,
    title_words,
    whole_title,
)
from server.telling.moments import clock_of, instant_words
from server.telling.numbers import minutes_set, percent_set
from server.telling.outside import VisibleText, visible
from server.telling.parts import Fact, Label, Row, Table
from server.telling.unread import NO_LINE, NONE_UNDERSTOOD, NOT_READ, not_understood, nothing_told
from server.web.cell_map import WEEKS as WEEKS_GRID
from server.web.cell_map import CellMap, cell_map, shares_of
from server.web.definitions import ANCHORS
from server.web.frame import Frame
from server.web.moment.links import incident_moments
from server.web.notes.marks import NotesShown, day_marks, notes_of, notes_shown
from server.web.shell import Link, Shell
from server.web.source import Source
from server.web.transmitter.charts import Evidence, Strip, WorstChart, strip, worst_chart
from server.web.weeks import week_of
from shared import spans as sp
from shared.zones import SECOND

WEEKS = 13
ALL_SEEN = 0.995
DRAWN = 12  # incidents that are drawn; more are in the table
LISTED = 200
MINUTES: dict[Width, int] = {"6min": 6, "30min": 30, "60min": 60}


@dataclass(frozen=True)
class Question:
    """What the form asks: one limit of the duty rule at another value."""

    width: Width = "6min"
    quiet: bool = True
    percent: int | None = None


@dataclass(frozen=True)
class IncidentView:
    """One incident, with its evidence drawn."""

    title: str
    subject: str
    anchor: str
    level: str
    when: str
    lasted: str
    says: str
    with_it: str  #: what followed from it
    strip: Strip
    note: Link | None  #: where the keeper takes note of it
    moments: tuple[Link, ...]  #: when it was raised
    remark: str


@dataclass(frozen=True)
class Choice:
    value: str
    label: str
    chosen: bool


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


@dataclass(frozen=True)
class NoteView:
    """What transmitter_note.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    heading: str  #: which incident
    says: str  #: its sentence
    action: str  #: where the form goes
    token: str  #: ties the form to this visitor
    done: bool  #: it was taken note of already
    trouble: str  #: what was wrong with the last attempt
    back: Link  #: to the page
    caution: str  #: what none of this is


def transmitter_view(source: Source, question: Question, now: int, frame: Frame) -> TransmitterView:
    """The last 13 weeks up to `now`. StoreError where the store can't be read."""
    desk = source.alerts()
    limits, zone = desk.limits(), frame.zone
    first = week_of(now, zone).shifted(1 - WEEKS)
    start = first.start_us
    known = source.first_and_last()
    untold = nothing_told(not_understood(source.intake())) if known is None else ""
    back, sheet = desk.look_back(start, now), source.exposure(start, now)
    weeks = [first.shifted(n) for n in range(WEEKS)]
    names = [f"Week {week.number}" for week in weeks]
    every: list[State | Incident] = [*back.kept, *back.replayed]
    incidents = folded(every, limits.timeout + limits.grace)[::-1]
    worst = {
        name: [_worst(back, width, week.start_us, min(now, week.end_us)) for week in weeks]
        for name, width in WIDTHS.items()
    }
    shares = _by_hour(back, start, now, zone, len(weeks))
    notes = notes_of(source, start, now)
    placed = [((one.day - first.monday).days / 7 + one.hour / 168, one) for one in day_marks(notes, frame)]
    rows = [(int(after), mark.hour, mark.letter) for after, mark in placed]
    across = [(after, mark.letter) for after, mark in placed]
    evidence = Evidence(back.counted, back.blind, back.unfinished)
    percent = question.percent or round(
        100 * (limits.duty_night if question.quiet else limits.duty_day)[question.width]
    )
    return TransmitterView(
        shell=frame.shell("Transmitter", "/transmitter"),
        span=f"{WEEKS} weeks, up to {instant_words(now, zone, with_year=True)}",
        headline=_headline(incidents, back, start, now, untold),
        remarks=_remarks(desk, back, zone_start=start),
        failing=tuple(visible(_failed(one, limits), 600) for one in desk.failing()),
        map=cell_map(shares_of(shares), names, WEEKS_GRID, "the whole hour", rows)
        if known is not None and np.isfinite(shares).any()
        else None,
        map_table=_map_table(shares, names),
        notes=notes_shown(notes, frame),
        worst=tuple(_worst_chart(name, worst[name], limits, names, across) for name in WIDTHS if known is not None),
        worst_table=_worst_table(back, start, now, limits),
        incidents=tuple(_incident(row, evidence, now, limits, frame) for row in _drawn(incidents)),
        nothing_raised=f"Nothing is known of these weeks: {NO_LINE if untold == NOT_READ else NONE_UNDERSTOOD}."
        if known is None
        else f"The rules raised nothing in these weeks{_as_far_as_seen(back, start, now)}.",
        incident_table=_incident_table(incidents, limits),
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


def note_view(state: State, token: str, trouble: str, when: str, frame: Frame) -> NoteView:
    """Taking note of the incident that was raised at `when`."""
    return NoteView(
        shell=frame.shell("Take note", None),
        heading=f"{whole_title(state.rule, state.subject)}, {when}",
        says=state.says,
        action=frame.to(f"/transmitter/note/{state.id}"),
        token=token,
        done=state.acknowledged is not None,
        trouble=trouble,
        back=frame.link("Back to the transmitter", "/transmitter"),
        caution=CAUTION,
    )


def _drawn(incidents: Sequence[Folded[State | Incident]]) -> list[Sequence[Folded[State | Incident]]]:
    """The latest rows, and one row of those that are a line in the morning only, which can be very many."""
    told = [one for one in incidents if (one.lead.rule, one.lead.subject) not in DIGEST_ONLY]
    lines = [one for one in incidents if (one.lead.rule, one.lead.subject) in DIGEST_ONLY]
    return [*in_rows(told)[:DRAWN], *([tuple(lines)] if lines else [])]


def _lower(title: str) -> str:
    return title[0].lower() + title[1:]


def _headline(incidents: Sequence[Folded[State | Incident]], back: LookBack, start: int, now: int, untold: str) -> str:
    """`untold`: what is said where no line of any log tells anything."""
    if untold:
        return untold
    standing = [one.lead for one in incidents if one.lead.cleared is None]
    if standing:
        return "Open now: " + "; ".join(_lower(whole_title(one.rule, one.subject)) for one in standing[:4]) + "."
    known = (
        "No alert is open now." if back.watched_since is not None else "Nothing is watched, so no alert can be open."
    )
    seen = _as_far_as_seen(back, start, now)
    if not incidents:
        return f"{known} There was no incident in these weeks{seen}."
    urgent = sum(one.lead.urgent for one in incidents)
    if len(incidents) == 1 and not incidents[0].followed:
        return f"{known} There was one incident in these weeks{seen}, {'and it was' if urgent else 'not'} urgent."
    return (
        f"{known} There {words.verb(len(incidents), 'was', 'were')} "
        f"{counted_words(incidents)}{',' if any(one.followed for one in incidents) else ''} in these weeks{seen}. "
        f"{words.whole_number(urgent)} {words.verb(urgent, 'was', 'were')} urgent."
    )


def _as_far_as_seen(back: LookBack, start: int, now: int) -> str:
    """What a count of these weeks is worth where not all of them were seen."""
    seen = sp.length(sp.complement(back.blind, start, now))
    if seen >= ALL_SEEN * (now - start):
        return ""
    return f", as far as the log was seen ({words.about(seen / SECOND)} of {words.about((now - start) / SECOND)})"


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


def _worst(back: LookBack, width: int, start: int, end: int) -> float | None:
    """The greatest keyed share of a stretch of [start, end); None where it is not known."""
    if end <= start or not sp.length(sp.complement(back.blind, start, end)):
        return None
    most = sp.fullest(back.counted, width, start, end)[0]
    if not most and any(start <= at < end for at in back.unfinished):
        return None  # nothing but overs of which nobody knows how long they were
    return most / width


def _by_hour(back: LookBack, start: int, end: int, zone, weeks: int) -> np.ndarray:  # type: ignore[no-untyped-def]
    """The fullest of each local clock hour in each week, shape (weeks, 24)."""
    daily = day_hour_map(back.counted, (start, end), zone, back.blind).share
    shares = np.full((weeks * 7, 24), np.nan)
    shares[: len(daily)] = daily[: weeks * 7]
    by_week = shares.reshape(weeks, 7, 24)
    fullest = np.where(np.isnan(by_week), -1.0, by_week).max(axis=1)
    return np.where(fullest < 0, np.nan, fullest)


def _map_table(shares: np.ndarray, names: Sequence[str]) -> Table:
    rows = tuple(
        Row(
            Label(f"{hour:02d}:00"),
            tuple("–" if np.isnan(share) else f"{100 * share:.0f}" for share in shares[:, hour]),
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


def _incident(
    row: Sequence[Folded[State | Incident]], evidence: Evidence, now: int, limits: Limits, frame: Frame
) -> IncidentView:
    """A row of like incidents, the latest of them drawn."""
    one, several = row[0].lead, [it.lead for it in row]
    note, remark = None, ""
    if not isinstance(one, State):
        remark = "found in the log, not sent"
    elif one.acknowledged is not None:
        remark = f"noted {instant_words(one.acknowledged, limits.zone)}"
    elif one.cleared is None:
        note = frame.link("Take note: no more reminders", f"/transmitter/note/{one.id}")
    return IncidentView(
        title=title_words(one.rule, one.subject),
        subject=subject_words(one.subject),
        anchor=ANCHORS["duty alert" if one.rule == "duty" else one.rule],
        level="look" if one.urgent else "note",
        when=dates_words(several, limits.zone),
        lasted=lasted_words(several),
        says=one.says,
        with_it=followed_words([other for it in row for other in it.followed], limits.zone),
        strip=strip(evidence, one.raised, one.cleared, now, limits.zone),
        note=note,
        moments=incident_moments(several, frame),
        remark=remark,
    )


def _incident_table(incidents: Sequence[Folded[State | Incident]], limits: Limits) -> Table:
    rows = tuple(_incident_row(row, limits) for row in in_rows(incidents)[:LISTED])
    heads = tuple(map(Label, ("Raised", "What", "Of", "Urgent", "Lasted")))
    return Table("All incidents, the latest first", heads, rows, frozenset({0, 1, 2}))


def _incident_row(row: Sequence[Folded[State | Incident]], limits: Limits) -> Row:
    leads = [one.lead for one in row]
    what, of, dates, lasted = incident_row(leads, [other for one in row for other in one.followed], limits.zone)
    return Row(Label(dates), (what, of, "yes" if leads[0].urgent else "no", lasted))


def _answer(
    desk: AlertQueries, back: LookBack, question: Question, percent: int, limits: Limits, start: int, now: int
) -> str:
    if not sp.length(sp.complement(back.blind, start, now)):
        return "How many alerts another limit would have raised is not known: no log tells of these weeks."
    given = (limits.duty_night if question.quiet else limits.duty_day)[question.width]
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
