"""The first page, Now: how it stands, the running week so far, and the last whole week. All that its template gets."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.telling.first_steps import NAME_A_LOG, READ_A_LOG
from server.telling.moments import instant_words
from server.telling.outside import VisibleText, visible
from server.telling.sentences import Verdict
from server.telling.unread import not_understood
from server.telling.verdict import verdict
from server.web.frame import Frame
from server.web.now.lately import LATELY, ROWS, Over, lately_words, over_lately
from server.web.now.open import Open, caution_of, none_raised, open_kinds, standing_alerts
from server.web.now.state import Condition, LogCondition, Remark, headline, is_watching, itself_stands, log_stands
from server.web.shell import Link, Shell
from server.web.source import Source
from server.web.week.view import week_facts
from server.web.weeks import Week, week_of


@dataclass(frozen=True)
class RemarkLine:
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
    remarks: tuple[RemarkLine, ...]


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
    itself: tuple[RemarkLine, ...]  #: whether airtally works, and tells
    lately: tuple[Over, ...]  #: raised in the last days, and over
    lately_says: str  #: what the list is
    running: WeekTold | None  #: the week so far
    whole: WeekTold | None  #: the last whole week
    transmitter: Link  #: where more of the incidents is


def now_view(source: Source, now: int, frame: Frame) -> NowView:
    """How it stands at `now`. StoreError where the store can't be read."""
    queries = source.alerts()
    zone, known, still = frame.zone, source.first_and_last(), source.stands_still()
    lately = queries.lately(now - LATELY, now)
    read = source.intake()
    lines, logs = not_understood(read), [log_stands(log, now, zone) for log in read]
    health = source.health()
    itself = itself_stands(
        health, None if still else lately, still or queries.notices_go_somewhere(), len(queries.failing()), now
    )
    condition = Condition(known is None, still, lately.standing, logs, itself, lines, is_watching(health, lately, now))
    limits = queries.limits()
    raised = standing_alerts(lately, limits)
    running, whole = _weeks(source, now, frame) if known is not None else (None, None)
    rows = over_lately(lately, limits, frame)
    return NowView(
        shell=frame.shell("Now", "/"),
        at=instant_words(now, zone, with_year=True),
        headline=headline(condition, zone),
        steps=_steps(known is None and not lines, bool(logs)),
        raised=open_kinds(raised, now, limits, frame),
        none_raised=none_raised(lately, still, now, limits),
        caution=caution_of(raised),
        logs_first=any(log.level != "fine" for log in logs),
        logs=tuple(_log_line(log) for log in logs),
        itself=_lines(itself),
        lately=rows[:ROWS],
        lately_says=lately_words(lately, still, len(rows), now, _seen_lately(source, now)),
        running=running,
        whole=whole,
        transmitter=frame.link("All incidents, on Transmitter", "/transmitter#incidents"),
    )


def _steps(nothing_read: bool, any_log: bool) -> tuple[str, ...]:
    if not nothing_read:
        return ()
    return READ_A_LOG if any_log else NAME_A_LOG


def _seen_lately(source: Source, now: int) -> float:
    """The share of the last seven days that a log tells of, 0 to 1."""
    return source.figures(now - LATELY, now).window.seen_share


def _lines(remarks: Sequence[Remark]) -> tuple[RemarkLine, ...]:
    return tuple(RemarkLine(its.level, its.says, visible(its.why, 600)) for its in remarks)


def _log_line(log: LogCondition) -> LogLine:
    return LogLine(visible(log.name.rsplit("/", 1)[-1]), log.level, log.last, _lines(log.remarks))


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
