"""The verdict of a week in plain sentences: what was normal, what was not, what to look at. Pure functions of the
figures.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from server.analytics.compare import CHANNEL, Beside
from server.analytics.figure_types import Figures
from server.analytics.overruns import Overrun
from server.telling import words
from server.telling.caution import CAUTION
from server.telling.changes import WORTH_SAYING_S
from server.telling.findings import MUCH_BLIND, findings
from server.telling.overruns import FAR_BEYOND, lengthless
from server.telling.period import Period
from server.telling.sentences import Finding, Sentence, Verdict, figure, say
from server.telling.unread import MEND, NOT_READ, nothing_told
from server.telling.unseen import NO_LINE, NO_LINE_LOOK

#: Of the list of findings: what is asked of every week, and of one in which something was on the air.
ALWAYS, ON_AIR = ("unread", "no mode", "blind", "edges", "unfinished"), ("moved", "shut out", "timed out")
URGENCY = {"look": 0, "note": 1, "fine": 2}


@dataclass(frozen=True)
class WeekFacts:
    """All that a verdict is made from."""

    figures: Figures
    zone: ZoneInfo
    timeout_s: float
    airtime: Mapping[str, Beside] = field(default_factory=dict)  #: by mode, and CHANNEL
    shut_outs: Beside = field(default_factory=lambda: Beside(0))
    longest: Overrun | None = None  #: the longest over, however long it was
    so_far: bool = False  #: the week is not over
    nothing_read: bool = False  #: no line of any log has a stamp
    lines: int = 0  #: of all logs, that were read so far; asked where none has a stamp
    edges: str = ""  #: where the log begins or stops within the week

    @property
    def no_line(self) -> bool:
        """Whether the week counts as seen though not one line was logged in it, and nothing reached into it."""
        figures = self.figures
        return not figures.intake.lines and bool(figures.window.seen_share) and not figures.channel.airtime_s

    @property
    def period(self) -> Period:
        longest = self.longest
        far = longest is not None and (longest.seconds or 0.0) >= FAR_BEYOND * self.timeout_s
        return Period(
            figures=self.figures,
            zone=self.zone,
            timeout_s=self.timeout_s,
            over=not self.so_far,
            edges=self.edges,
            airtime=self.airtime,
            shut_outs=self.shut_outs,
            overruns=(longest,) if far and longest is not None else (),
        )


def verdict(facts: WeekFacts) -> Verdict:
    """Headline first, then findings: what to look at, what to note, what is fine."""
    lines = facts.figures.intake.lines
    seen = facts.figures.window.seen_share
    if (lines and facts.figures.intake.unread == lines) or (facts.nothing_read and facts.lines):
        return Verdict(say(nothing_told(max(lines, facts.lines))), (_look(MEND),))
    if not seen and not lines:
        return _nothing_known(facts.nothing_read, facts.so_far)
    if facts.no_line:
        return Verdict(say(NO_LINE), (_look(NO_LINE_LOOK),))
    found = sorted(_chosen(facts), key=lambda finding: URGENCY[finding.level])
    caution = CAUTION if any(finding.about_duty for finding in found) else ""
    return Verdict(_headline(facts, found, seen), tuple(found), caution)


def _chosen(facts: WeekFacts) -> list[Finding]:
    period = facts.period
    # An over that ran for hours explains the duty too.
    fullest = findings(period, ["overruns"]) or findings(period, ["duty"])
    return fullest + findings(period, [*ALWAYS, *(ON_AIR if facts.figures.channel.airtime_s else ())])


def _look(sentence: str) -> Finding:
    return Finding("lines", "look", say(sentence), "intake")


def _nothing_known(nothing_read: bool, so_far: bool) -> Verdict:
    if nothing_read:
        look = "Name the log in the station file, then run `airtally ingest`; `airtally check` says what is in the way."
        return Verdict(say(NOT_READ), (_look(look),))
    if so_far:
        return Verdict(say("Nothing is known about this week yet: no log has a line from it."))
    headline = say("Nothing is known about this week: no log has a line from it.")
    return Verdict(headline, (_look("If the repeater was running, its logs were not read, or lie elsewhere by now."),))


def _headline(facts: WeekFacts, found: Sequence[Finding], seen: float) -> Sentence:
    channel = facts.figures.channel
    if not channel.airtime_s:
        return _headline_without_airtime(facts, seen)
    return say(
        _opening(facts, found),
        figure(f"{words.about(channel.airtime_s)} on the air", "channel airtime"),
        ", ",
        figure(f"{words.percent(channel.occupancy)} of the time", "occupancy"),
        ".",
    )


def _opening(facts: WeekFacts, found: Sequence[Finding]) -> str:
    """How the week was on the whole; empty where there is nothing to judge it by."""
    if any(finding.level == "look" for finding in found):
        return "Something to look at: "
    return "So far this week: " if facts.so_far else _beside_others(facts.airtime)


def _beside_others(airtime: Mapping[str, Beside]) -> str:
    known = [beside for beside in airtime.values() if beside.notable is not None]
    if not known:
        return ""
    whole = airtime.get(CHANNEL)
    if whole is not None and whole.notable:
        return f"A {'busier' if whole.now > (whole.usual or 0) else 'quieter'} week than usual: "
    return "Normal on the whole: " if any(map(_stands_out, known)) else "A normal week: "


def _stands_out(beside: Beside) -> bool:
    return bool(beside.notable) and beside.moved_by >= WORTH_SAYING_S


def _headline_without_airtime(facts: WeekFacts, seen: float) -> Sentence:
    channel = facts.figures.channel
    so_far = "so far this week" if facts.so_far else "this week"
    if not channel.overs and (told := lengthless(channel.unfinished, channel.pages)):
        return say(f"How long the repeater was on the air {so_far} is not known: the log tells of {told}.")
    if seen < MUCH_BLIND or channel.airtime_s is None:
        week = "the week so far" if facts.so_far else "this week"
        return say(f"Hardly anything is known about {week}: there was no log.")
    return say(f"Nobody was on the air {so_far}, as far as the log shows.")
