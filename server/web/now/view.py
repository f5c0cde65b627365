"""The first page, Now: how it stands, the running week so far, and the last whole week. All that its template gets."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.alerts.folding import Folded, folded, in_rows
from server.alerts.incident import Incident
from server.alerts.limits import Limits
from server.alerts.queries import Lately
from server.alerts.states import DIGEST_ONLY, OF_ONE_TRANSMITTER, State
from server.telling import words
from server.telling.caution import CAREFUL, CAUTION
from server.telling.checks import check
from server.telling.incidents import dates_words, followed_words, lasted_words, subject_words, title_words
from server.telling.moments import instant_words
from server.telling.numbers import exact_duration
from server.telling.outside import VisibleText, visible
from server.telling.sentences import Verdict
from server.telling.unread import not_understood
from server.telling.verdict import verdict
from server.web.definitions import ANCHORS
from server.web.frame import Frame
from server.web.moment.links import incident_moments, moment_link
from server.web.now.state import LogStands, Said, Stands, headline, is_watching, itself_stands, log_stands
from server.web.shell import Link, Shell
from server.web.source import Source
from server.web.week.view import week_facts
from server.web.weeks import Week, week_of
from shared.incidents import since
from shared.zones import DAY, SECOND

LATELY = 7 * DAY
ROWS = 12
ALL_SEEN = 0.995


@dataclass(frozen=True)
class OpenOne:
    """One incident that stands raised."""

    subject: tuple[VisibleText, ...]
    since: str
    says: tuple[VisibleText, ...]
    with_it: str  #: what followed from it
    note: Link | None
    moment: Link


@dataclass(frozen=True)
class Open:
    """What stands raised of one kind, and what to check first."""

    title: str
    anchor: str
    level: str
    ones: tuple[OpenOne, ...]
    check: str


@dataclass(frozen=True)
class Over:
    """One row of what was raised lately and is over."""

    title: str
    subject: tuple[VisibleText, ...]
    anchor: str
    level: str
    when: str
    lasted: str
    with_it: str
    moments: tuple[Link, ...]


@dataclass(frozen=True)
class SaidLine:
    """One sentence, and text from outside that goes with it."""

    level: str
    says: str
    why: tuple[VisibleText, ...]


@dataclass(frozen=True)
class LogLine:
    """One log, in a line or two."""

    name: tuple[VisibleText, ...]
    level: str
    last: str
    said: tuple[SaidLine, ...]


@dataclass(frozen=True)
class WeekTold:
    """A week by its verdict, with a link to its page."""

    heading: str
    dates: str
    verdict: Verdict
    page: Link


@dataclass(frozen=True)
class NowView:
    """What now.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    at: str  #: the instant of the page
    headline: str  #: how it stands
    steps: tuple[str, ...]  #: what to do next, where nothing is there yet
    raised: tuple[Open, ...]  #: what stands raised
    none_raised: str  #: said where nothing does
    caution: str  #: where something that stands raised is about the transmitter, or asks for a look at the antenna
    logs_first: bool  #: whether a log is in trouble, and so comes before what is over
    logs: tuple[LogLine, ...]  #: whether each log comes in
    itself: tuple[SaidLine, ...]  #: whether airtally works, and tells
    lately: tuple[Over, ...]  #: raised in the last days, and over
    lately_says: str  #: what the list is
    running: WeekTold | None  #: the week so far
    whole: WeekTold | None  #: the last whole week
    transmitter: Link  #: where more of the incidents is


def now_view(source: Source, now: int, frame: Frame) -> NowView:
    """How it stands at `now`. StoreError where the store can't be read."""
    desk = source.alerts()
    zone, known, still = frame.zone, source.first_and_last(), source.stands_still()
    lately = desk.lately(now - LATELY, now)
    read = source.intake()
    lines, logs = not_understood(read), [log_stands(log, now, zone) for log in read]
    health = source.health()
    itself = itself_stands(
        health, None if still else lately, still or desk.notices_go_somewhere(), len(desk.failing()), now
    )
    stands = Stands(known is None, still, lately.standing, logs, itself, lines, is_watching(health, lately, now))
    limits = desk.limits()
    raised = [
        one
        for one in folded(lately.standing, limits.timeout + limits.grace)
        if (one.lead.rule, one.lead.subject) not in DIGEST_ONLY
    ]
    running, whole = _weeks(source, now, frame) if known is not None else (None, None)
    rows = _over(lately, limits, frame)
    return NowView(
        shell=frame.shell("Now", "/"),
        at=instant_words(now, zone, with_year=True),
        headline=headline(stands, zone),
        steps=_steps(known is None and not lines, bool(logs)),
        raised=_open(raised, now, limits, frame),
        none_raised=_none_raised(lately, still, now, limits),
        caution=CAUTION if any(one.lead.rule in CAREFUL for one in raised) else "",
        logs_first=any(log.level != "fine" for log in logs),
        logs=tuple(_log_line(log) for log in logs),
        itself=_lines(itself),
        lately=rows[:ROWS],
        lately_says=_lately_says(lately, still, len(rows), now, _seen_lately(source, now)),
        running=running,
        whole=whole,
        transmitter=frame.link("All incidents, on Transmitter", "/transmitter#incidents"),
    )


def _steps(nothing_read: bool, any_log: bool) -> tuple[str, ...]:
    if not nothing_read:
        return ()
    if not any_log:
        return (
            "Add a `[[log]]` with the path of the host’s log to station.toml; `airtally init` writes one by asking.",
            "Is the host’s log of a kind not known yet? `airtally adopt LOG` learns it.",
            "To see what the pages look like first, run `airtally demo`.",
        )
    return (
        "`airtally serve` reads each line as it is written to the log; `airtally ingest` reads what is there and "
        "stops.",
        "Is nothing coming? `airtally check` says whether the log is there, empty or closed to airtally.",
    )


def _none_raised(lately: Lately, still: bool, now: int, limits: Limits) -> str:
    if still:
        return "Nothing is watched in a demo, so no alert can be open. What the rules find in its log is below."
    if lately.watched is None:
        return "Nothing is watched yet, so no alert can be open."
    since, until = lately.watched
    return (
        f"No alert is open. The rules were last asked {words.duration(max(0, now - until) / SECOND)} ago; "
        f"they have been asked since {instant_words(since, limits.zone, with_year=True)}."
    )


def _open(raised: Sequence[Folded[State | Incident]], now: int, limits: Limits, frame: Frame) -> tuple[Open, ...]:
    """Kind by kind, the urgent ones first."""
    kinds: dict[tuple[bool, str, str], list[Folded[State | Incident]]] = {}
    for one in raised:
        kinds.setdefault((not one.lead.urgent, title_words(one.lead.rule, one.lead.subject), one.lead.rule), []).append(
            one
        )
    return tuple(
        Open(
            title,
            anchor_of(rule),
            "note" if easy else "look",
            tuple(_open_one(one, now, limits, frame) for one in mine),
            " ".join(dict.fromkeys(check(rule, one.lead.subject) for one in mine)),
        )
        for (easy, title, rule), mine in sorted(kinds.items(), key=lambda item: item[0][0])
    )


def _open_one(one: Folded[State | Incident], now: int, limits: Limits, frame: Frame) -> OpenOne:
    lead = one.lead
    note = None
    if isinstance(lead, State) and lead.acknowledged is None:
        note = frame.link("Take note: no more reminders", f"/transmitter/note/{lead.id}")
    return OpenOne(
        subject=visible(subject_words(lead.subject)),
        since=f"Since {instant_words(since(lead), limits.zone)}: {exact_duration(max(0, now - since(lead)))} so far.",
        says=visible(lead.says, 600),
        with_it=followed_words(one.followed, limits.zone),
        note=note,
        moment=moment_link(frame, lead.raised),
    )


def anchor_of(rule: str) -> str:
    return ANCHORS["duty alert" if rule == "duty" else rule]


def _over(lately: Lately, limits: Limits, frame: Frame) -> tuple[Over, ...]:
    found = folded(
        [*lately.over, *(one for one in lately.standing if one.rule == OF_ONE_TRANSMITTER[0])],
        limits.timeout + limits.grace,
    )
    shown = [one for one in reversed(found) if one.lead.cleared is not None]
    return tuple(_row(row, limits, frame) for row in sorted(in_rows(shown), key=lambda row: not row[0].lead.urgent))


def _row(row: Sequence[Folded[State | Incident]], limits: Limits, frame: Frame) -> Over:
    lead = row[0].lead
    return Over(
        title=title_words(lead.rule, lead.subject),
        subject=visible(subject_words(lead.subject)),
        anchor=anchor_of(lead.rule),
        level="look" if lead.urgent else "note",
        when=dates_words([one.lead for one in row], limits.zone),
        lasted=lasted_words([one.lead for one in row]),
        with_it=followed_words([other for one in row for other in one.followed], limits.zone),
        moments=incident_moments([one.lead for one in row], frame),
    )


def _seen_lately(source: Source, now: int) -> float:
    """The share of the last seven days that a log tells of, 0 to 1."""
    return source.figures(now - LATELY, now).window.seen_share


def _lately_says(lately: Lately, still: bool, rows: int, now: int, seen: float) -> str:
    since = now - LATELY
    unwatched = lately.watched is None or lately.watched[0] > since
    found = (
        ""
        if not unwatched
        else " Incidents from before `airtally serve` was started were found in the log afterwards; no notices were "
        "sent."
    )
    if still:
        found = " They were found in the log afterwards; no notices were sent."
    if not rows and not seen:
        return "No log tells of the last seven days, so nothing can be found in them."
    partly = "" if seen >= ALL_SEEN else f" Only {words.percent(seen)} of the seven days had a log."
    if not rows:
        return (
            "The rules find nothing in the log of the last seven days."
            if unwatched
            else "No alert was raised or cleared in the last seven days."
        ) + partly
    found += partly
    return f"Raised or cleared in the last seven days, and over.{found}" + (
        f" The latest {ROWS} of {rows}." if rows > ROWS else ""
    )


def _lines(said: Sequence[Said]) -> tuple[SaidLine, ...]:
    return tuple(SaidLine(one.level, one.says, visible(one.why, 600)) for one in said)


def _log_line(log: LogStands) -> LogLine:
    return LogLine(visible(log.name.rsplit("/", 1)[-1]), log.level, log.last, _lines(log.said))


def _weeks(source: Source, now: int, frame: Frame) -> tuple[WeekTold | None, WeekTold | None]:
    this, known = week_of(now, source.station().zone), source.first_and_last()
    before = this.shifted(-1)
    whole = _told(source, before, now, frame) if known is not None and known[0] < before.end_us else None
    return _told(source, this, now, frame), whole


def _told(source: Source, week: Week, now: int, frame: Frame) -> WeekTold:
    return WeekTold(
        f"Week {week.number}",
        week.dates,
        verdict(week_facts(source, week, now)),
        frame.link(f"Week {week.number}", f"/week/{week.name}"),
    )
