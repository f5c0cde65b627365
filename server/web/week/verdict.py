"""The verdict of a week in plain sentences: what was normal, what was not, what to look at. Pure functions of the
figures.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from server.analytics.compare import SEEN_ENOUGH
from server.analytics.figure_types import Figures
from server.telling import words
from server.telling.caution import CAUTION
from server.telling.findings import much_unread, shut_out_sentence, timeout_sentence
from server.telling.moments import instant_words, stretch_words
from server.telling.overruns import FAR_BEYOND, lengthless, meaning
from server.telling.sentences import Finding, Level, Sentence, Text, Verdict, figure, say
from server.telling.unread import MEND, NOT_READ, nothing_told
from server.telling.unseen import NO_LINE, NO_LINE_LOOK
from server.web.source import CHANNEL, LongestOver
from server.web.week.usual import Beside
from shared.events import MODE_LABELS

#: Keyed shares that people taking turns don't reach: a busy net with tails keys 95 to 98 % of an hour.
NEAR_ONE = ((60, 0.99), (30, 0.999))
WORTH_SAYING_S = 900.0  # a mode that moved by less in a week is not what the keeper stands in the rain for
BLIND_SHARE = 0.005
MUCH_BLIND = 0.1
UNFINISHED_SHARE = 0.02
MODES_NAMED = 3


@dataclass(frozen=True)
class WeekFacts:
    """All that a verdict is made from."""

    figures: Figures
    zone: ZoneInfo
    timeout_s: float
    airtime: Mapping[str, Beside] = field(default_factory=dict)  #: by mode, and CHANNEL
    shut_outs: Beside = field(default_factory=lambda: Beside(0))
    longest: LongestOver | None = None
    so_far: bool = False  #: the week is not over
    nothing_read: bool = False  #: no line of any log has a stamp
    lines: int = 0  #: of all logs, that were read so far; asked where none has a stamp
    edges: str = ""  #: where the log begins or stops within the week

    @property
    def no_line(self) -> bool:
        """Whether the week counts as seen though not one line was logged in it, and nothing reached into it."""
        figures = self.figures
        return not figures.intake.lines and bool(figures.window.seen_share) and not figures.channel.airtime_s


def verdict(facts: WeekFacts) -> Verdict:
    """Headline first, then findings: what to look at, what to note, what is fine."""
    lines = facts.figures.intake.lines
    seen = facts.figures.window.seen_share
    if (lines and facts.figures.intake.unread == lines) or (facts.nothing_read and facts.lines):
        look = Finding("look", say(MEND), "intake")
        return Verdict(say(nothing_told(max(lines, facts.lines))), (look,))
    if not seen and not lines:
        return _nothing_known(facts.nothing_read, facts.so_far)
    if facts.no_line:
        return Verdict(say(NO_LINE), (Finding("look", say(NO_LINE_LOOK), "intake"),))
    order = {"look": 0, "note": 1, "fine": 2}
    findings = sorted(_findings(facts), key=lambda finding: order[finding.level])
    caution = CAUTION if any(finding.about_duty for finding in findings) else ""
    return Verdict(_headline(facts, findings, seen), tuple(findings), caution)


def _nothing_known(nothing_read: bool, so_far: bool) -> Verdict:
    if nothing_read:
        look = say(
            "Name the log in the station file, then run `airtally ingest`; `airtally check` says what is in the way."
        )
        return Verdict(say(NOT_READ), (Finding("look", look, "intake"),))
    if so_far:
        return Verdict(say("Nothing is known about this week yet: no log has a line from it."))
    headline = say("Nothing is known about this week: no log has a line from it.")
    look = say("If the repeater was running, its logs were not read, or lie elsewhere by now.")
    return Verdict(headline, (Finding("look", look, "intake"),))


def _headline_without_airtime(facts: WeekFacts, seen: float) -> Sentence:
    channel = facts.figures.channel
    so_far = "so far this week" if facts.so_far else "this week"
    if not channel.overs and (told := lengthless(channel.unfinished, channel.pages)):
        return say(f"How long the repeater was on the air {so_far} is not known: the log tells of {told}.")
    if seen < MUCH_BLIND or channel.airtime_s is None:
        return say(
            f"Hardly anything is known about {'the week so far' if facts.so_far else 'this week'}: there was no log."
        )
    return say(f"Nobody was on the air {so_far}, as far as the log shows.")


def _headline(facts: WeekFacts, findings: list[Finding], seen: float) -> Sentence:
    channel = facts.figures.channel
    if not channel.airtime_s:
        return _headline_without_airtime(facts, seen)
    used = (
        figure(f"{words.about(channel.airtime_s)} on the air", "channel airtime"),
        ", ",
        figure(f"{words.percent(channel.occupancy)} of the time", "occupancy"),
        ".",
    )
    if any(finding.level == "look" for finding in findings):
        return say("Something to look at: ", *used)
    if facts.so_far:
        return say("So far this week: ", *used)
    noted = [
        None if beside.notable is None else beside.notable and _moved_by(beside) >= WORTH_SAYING_S
        for beside in facts.airtime.values()
    ]
    whole = facts.airtime.get(CHANNEL)
    if whole is not None and whole.notable:
        return say(
            "A busier week than usual: " if whole.now > (whole.usual or 0) else "A quieter week than usual: ", *used
        )
    if any(noted):
        return say("Normal on the whole: ", *used)
    if not noted or all(known is None for known in noted):  # nothing to judge it by
        return say(*used)
    return say("A normal week: ", *used)


def _findings(facts: WeekFacts) -> Iterator[Finding]:
    yield from list(_long_over(facts)) or _duty(facts)  # an over that ran for hours explains the duty too
    yield from _unread(facts)
    yield from _blind(facts)
    if facts.edges:
        yield Finding("note", say(facts.edges), "intake")
    yield from _unfinished(facts)
    if facts.figures.channel.airtime_s:
        yield from _changes(facts)
        yield _shut_outs(facts)
        yield _timeouts(facts)


def _level_of_none(facts: WeekFacts) -> Level:
    """`None` is fine only where enough was seen and read."""
    enough = 1 - facts.figures.window.seen_share < MUCH_BLIND and not much_unread(facts.figures)
    return "fine" if enough else "note"


def _long_over(facts: WeekFacts) -> Iterator[Finding]:
    longest = facts.longest
    if longest is None or longest.seconds < FAR_BEYOND * facts.timeout_s:
        return
    who = f"One {MODE_LABELS[longest.mode]} over" if longest.mode else "One over"
    yield Finding(
        "look",
        say(
            who.removesuffix("over"),
            figure("over", "over"),
            f" ran for {words.duration(longest.seconds)}, from {instant_words(longest.start_us, facts.zone)}, "
            f"{meaning(longest.seconds, facts.timeout_s)}",
        ),
        "time-outs",
        about_duty=True,
    )


def _duty(facts: WeekFacts) -> Iterator[Finding]:
    fullest = dict(facts.figures.duty)
    for minutes, limit in NEAR_ONE:
        share, span = fullest[minutes].share, fullest[minutes].span
        if share is None or span is None or share < limit:
            continue
        when = stretch_words(*span, facts.zone)
        yield Finding(
            "look",
            say(
                "The transmitter was keyed for ",
                figure(f"{words.percent(share)} of {minutes}{words.GAP}min", "duty"),
                f" ({when}): see whether people were talking, and whether it is rated for that.",
            ),
            "duty",
            about_duty=True,
        )
        return


def _unread(facts: WeekFacts) -> Iterator[Finding]:
    intake = facts.figures.intake
    if not much_unread(facts.figures):
        return
    share = words.percent(intake.unread / intake.lines)
    yield Finding(
        "look",
        say(
            figure(f"{share} of the log lines", "lines"),
            f" ({words.whole_number(intake.unread)}) could not be read: what they tell is missing here.",
        ),
        "intake",
    )


def _blind(facts: WeekFacts) -> Iterator[Finding]:
    window = facts.figures.window
    share = 1 - window.seen_share
    if share < BLIND_SHARE:
        return
    yield Finding(
        "look" if share >= MUCH_BLIND else "note",
        say(
            "For ",
            figure(f"{words.about(window.blind_s)} ({words.percent(share)})", "blind time"),
            " there was no log: whatever happened then is not in these figures.",
        ),
        "intake",
    )


def _unfinished(facts: WeekFacts) -> Iterator[Finding]:
    channel = facts.figures.channel
    unfinished, overs = channel.unfinished, channel.overs
    if not unfinished or unfinished / (unfinished + (overs or 0)) < UNFINISHED_SHARE:
        return
    yield Finding(
        "note",
        say(
            figure(words.count(unfinished, "over has", "overs have"), "unfinished"),
            f" no end in the log, and {words.verb(unfinished, 'adds', 'add')} no airtime.",
        ),
        "intake",
    )


def _changes(facts: WeekFacts) -> Iterator[Finding]:
    if facts.so_far or not facts.airtime:
        return
    moved = {mode: beside for mode, beside in facts.airtime.items() if beside.notable}
    channel = moved.pop(CHANNEL, None)
    if channel is not None:
        yield Finding(
            "note",
            say(figure("Time on the air", "channel airtime"), f" was {_moved(channel)}."),
            "airtime",
        )
    ranked = sorted(moved.items(), key=lambda item: -_moved_by(item[1]))
    small = [mode for mode, it in ranked if _moved_by(it) < WORTH_SAYING_S]
    ranked = ranked[: len(ranked) - len(small)]
    for mode, beside in ranked[:MODES_NAMED]:
        yield Finding("note", say(figure(MODE_LABELS[mode], "airtime"), f" was {_moved(beside)}."), "airtime")
    if len(ranked) > MODES_NAMED:
        rest = ", ".join(MODE_LABELS[mode] for mode, _ in ranked[MODES_NAMED:])
        yield Finding("note", say(f"Also unusual: {rest}."), "airtime")
    if small and not ranked:
        named = ", ".join(MODE_LABELS[mode] for mode in small)
        yield Finding("fine", say(figure("Unusual", "notable"), f", but only by minutes: {named}."), "airtime")
    known = [beside.notable for beside in facts.airtime.values()]
    if all(notable is None for notable in known):
        if facts.figures.window.seen_share < SEEN_ENOUGH:
            yield Finding(
                "note",
                say("Too little of this week was seen to call anything far from the ", figure("usual", "notable"), "."),
                "airtime",
            )
            return
        yield Finding(
            "note",
            say(
                "Too few weeks were seen before this one to call anything far from the ",
                figure("usual", "notable"),
                ".",
            ),
            "airtime",
        )
    elif not any(known):
        yield Finding("fine", say("No mode was far from its ", figure("usual airtime", "notable"), "."), "airtime")


def _moved_by(beside: Beside) -> float:
    """Seconds between a week's airtime and the usual."""
    return abs(beside.now - (beside.usual or 0))


def _moved(beside: Beside) -> str:
    if beside.now <= 0:
        return f"silent, against a usual {words.about(beside.usual or 0)}"
    if not beside.usual:
        return f"on the air for {words.about(beside.now)}, and not at all in the weeks before"
    return (
        f"{words.change(beside.now, beside.usual)}: {words.about(beside.now)} against a usual "
        f"{words.about(beside.usual)}"
    )


def _shut_outs(facts: WeekFacts) -> Finding:
    total, usual = facts.figures.attempts_shut_out or 0, facts.shut_outs.usual
    unusual = bool(facts.shut_outs.notable) and total > (usual or 0)
    sentence = shut_out_sentence(facts.figures)
    if unusual:
        sentence = (*sentence, Text(f" A usual week has {words.whole_number(usual)}."))
    return Finding("look" if unusual else "note" if total else _level_of_none(facts), sentence, "shut-outs")


def _timeouts(facts: WeekFacts) -> Finding:
    modes = facts.figures.modes.values()
    any_ran = any(its.timeouts or its.timeouts_estimated for its in modes) or facts.figures.channel.overruns
    sentence = timeout_sentence(facts.figures, facts.timeout_s)
    return Finding("note" if any_ran else _level_of_none(facts), sentence, "time-outs")
