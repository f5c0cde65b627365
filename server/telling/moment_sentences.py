"""What is said of a moment: sentences that stand by themselves, so that a keeper can paste them into an answer. Never
who was on.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from zoneinfo import ZoneInfo

from server.analytics.figure_types import Json
from server.analytics.moment_types import Down, Moment, Refused, Sent, TimedOut
from server.telling.incidents import whole_title
from server.telling.links import link_name, the_link
from server.telling.modes import mode_words
from server.telling.moments import clock_seconds, day_name, day_words, instant_words, other_instant
from server.telling.numbers import GAP, count, duration, verb
from server.telling.sentences import Sentence, figure, say, text_of
from server.telling.targets import TargetNames
from server.telling.unread import nothing_read_yet
from shared.zones import DAY, SECOND, from_us

HALF_HOUR_S = 1800.0
LISTED = 5  # of one kind; more are counted
SIDES = {"air": "received by radio", "link": "from a link", None: "from a side that the log does not name"}
REASONS = {
    "other-mode": "another mode held the repeater",
    "busy": "its mode was in use",
    "lockout": "locked out after a time-out",
    None: "the log gives no reason",
}


@dataclass(frozen=True)
class Logged:
    """How far the logs reach, and the present."""

    bounds: tuple[int, int] | None  #: first and last line, None where none was read
    now_us: int
    lines: int = 0  #: that were read, where none of them could be understood


def moment_json(moment: Moment, logged: Logged, names: TargetNames) -> Json:
    """Just what `airtally moment --json` prints."""
    return moment.as_json([plain(one) for one in moment_sentences(moment, logged, names)])


def plain(sentence: Sentence) -> str:
    """A sentence for a mail or a terminal, which keep no words together."""
    return text_of(sentence).replace(GAP, " ")


def moment_sentences(moment: Moment, logged: Logged, names: TargetNames) -> list[Sentence]:
    """What held the repeater, how long a caller would have waited, and what had a part in it."""
    told = [*_held(moment, logged.now_us), *_wait(moment)] if moment.seen else _unseen(moment, logged)
    return [*told, *_clock_change(moment), *_around(moment, names)]


def when_words(moment: Moment) -> str:
    """`On Tue 17 Nov 2026 at 20:15:00`."""
    return f"On {day_words(moment.at_us, moment.zone)} at {clock_seconds(moment.at_us, moment.zone)}"


def _clock_change(moment: Moment) -> list[Sentence]:
    other = other_instant(moment.at_us, moment.zone)
    if other is None:
        return []
    which = "first" if other > moment.at_us else "second"
    names = [from_us(us, moment.zone).tzname() for us in (moment.at_us, other)]
    return [
        say(
            f"The clocks went back in that hour, so {from_us(other, moment.zone):%H:%M:%S} came twice: this is the"
            f" {which} of the two ({names[0]}), the other one is {names[1]}."
        )
    ]


# What held it


def _held(moment: Moment, now_us: int) -> list[Sentence]:
    when, holding, zone = when_words(moment), moment.holding, moment.zone
    on_air = _on_air(moment.on_air or (), zone)
    if holding is None:
        return [*_nobody(moment, when), *on_air]
    silent = say(f"Nothing was on the air: the repeater was still with {mode_words(holding.mode)} after its last over.")
    since, until = (_clock_near(us, moment) for us in (holding.start_us, holding.end_us))
    held = "held" if holding.end_us <= now_us else "its hold keeps"
    return [
        say(f"{when} {mode_words(holding.mode)} ", figure("held the repeater", "held"), "."),
        *(on_air or [silent]),
        say(f"{mode_words(holding.mode)} had held it without a break since {since}, and {held} it until {until}."),
    ]


def _nobody(moment: Moment, when: str) -> list[Sentence]:
    if moment.doubt is not None:
        began = _clock_near(moment.doubt, moment)
        return [
            say(
                f"{when} no mode is known to have held the repeater. Something began at {began} of which the log lacks"
                " the end, the length or the mode, so it may have held it."
            )
        ]
    free = say(f"{when} nothing ", figure("held the repeater", "held"), ": it was free.")
    return [free, *_free(moment)]


def _free(moment: Moment) -> list[Sentence]:
    if moment.free is None:
        return []
    since, until = moment.free
    parts = []
    if since > moment.at_us - DAY:
        parts.append(f"since {_clock_near(since, moment)}")
    if until < moment.at_us + DAY:
        parts.append(f"until {_clock_near(until, moment)}")
    if not parts:
        return [say("Nothing had held it for a day before, and nothing did for a day after.")]
    return [say(f"It was free, as far as the log tells, {' '.join(parts)}.")]


def _clock_near(us: int, moment: Moment) -> str:
    """The time of day, with the day where it is another one."""
    day, own = (from_us(one, moment.zone).date() for one in (us, moment.at_us))
    return clock_seconds(us, moment.zone) + ("" if day == own else f" on {day_name(day)}")


def _on_air(sent: Sequence[Sent], zone: ZoneInfo) -> list[Sentence]:
    if not sent:
        return []
    return [say(f"On the air {verb(len(sent), 'was', 'were')} {_listed([_transmission(one, zone) for one in sent])}.")]


def _transmission(one: Sent, zone: ZoneInfo) -> str:
    slot = f" in slot {one.slot}" if one.slot else ""
    name = mode_words(one.mode) if one.mode else "an over of an unknown mode"
    since, until = (clock_seconds(us, zone) for us in (one.start_us, one.end_us))
    return f"{name}{slot}, {SIDES[one.side]}, from {since} to {until}"


def _listed(parts: Sequence[str]) -> str:
    shown = parts[:LISTED]
    more = f"; and {len(parts) - len(shown)} more" if len(parts) > len(shown) else ""
    return "; ".join(shown) + more


# How long a caller would have waited


def _wait(moment: Moment) -> list[Sentence]:
    holding, wanted = moment.holding, moment.wanted
    if wanted is None:
        if holding is None:
            return []
        left = duration((holding.end_us - moment.at_us) / SECOND)
        return [say("A caller of any other mode would have ", figure(f"waited {left}", "shut-out wait"), ".")]
    mode = mode_words(wanted)
    caller = f"{'An' if mode[0] in 'FNM' else 'A'} {mode} caller"
    if moment.wait_s is None:
        return [say(f"Whether {caller[0].lower()}{caller[1:]} could have gone ahead is not known.")]
    if moment.wait_s:
        return [say(f"{caller} would have ", figure(f"waited {duration(moment.wait_s)}", "shut-out wait"), " for it.")]
    if holding is None:
        return [say(f"{caller} could have gone ahead.")]
    return [say(f"No other mode kept {caller[0].lower()}{caller[1:]} out: the repeater was with that mode itself.")]


# What nobody saw


def _unseen(moment: Moment, logged: Logged) -> list[Sentence]:
    when = when_words(moment)
    if logged.bounds is None:
        return [say(nothing_read_yet(logged.lines))]
    if moment.at_us > logged.now_us:
        now = instant_words(logged.now_us, moment.zone, with_year=True)
        return [say(f"{when} lies ahead: it is now {now}, and nothing is known of what is to come.")]
    first, last = logged.bounds
    if moment.at_us < first:
        said = f"The log begins on {instant_words(first, moment.zone, with_year=True)}."
    elif moment.at_us >= last:
        said = f"The last line that was read is of {instant_words(last, moment.zone, with_year=True)}."
    else:
        said = _hole(moment)
    return [say(f"{when} nobody knows what held the repeater: no log tells of that moment. {said}")]


def _hole(moment: Moment) -> str:
    since, until = moment.unseen or (moment.at_us, moment.at_us)
    if since <= moment.at_us - DAY or until >= moment.at_us + DAY:
        return "The log is silent for more than a day around it."
    return f"The log is silent from {_clock_near(since, moment)} to {_clock_near(until, moment)}."


# What happened around it


def _around(moment: Moment, names: TargetNames) -> list[Sentence]:
    if moment.near_seen_s == 0 and not any((moment.attempts, moment.timeouts, moment.links_down, moment.incidents)):
        return []
    found = [
        *_attempts(moment.attempts or (), moment.zone),
        *(_timed_out(one, moment.zone) for one in (moment.timeouts or ())[:LISTED]),
        *(_down(one, moment, names) for one in (moment.links_down or ())[:LISTED]),
        *_alerts(moment, names),
    ]
    none = [
        name
        for name, many in (
            ("refused call", moment.attempts),
            ("time-out", moment.timeouts),
            ("lost link", moment.links_down),
            ("alert", moment.incidents),
        )
        if not many
    ]
    return [*found, *_nothing_of(none, moment.near_seen_s)]


def _nothing_of(kinds: Sequence[str], seen_s: float) -> list[Sentence]:
    if not kinds:
        return []
    said = _in_a_row([f"no {one}" for one in kinds])
    if duration(HALF_HOUR_S - seen_s) == duration(HALF_HOUR_S):
        return [say("All of the half hour around it was not seen, so of anything else in it nothing is known.")]
    part = "" if seen_s >= HALF_HOUR_S else f"; of that half hour {duration(HALF_HOUR_S - seen_s)} was not seen"
    return [say(f"The log tells of {said} within 15{GAP}minutes of it{part}.")]


def _attempts(tried: Sequence[Refused], zone: ZoneInfo) -> list[Sentence]:
    if not tried:
        return []
    shown = tried[:LISTED]
    each = [
        f"{_in_a_row([_call(one, zone) for one in alike])}, {why}{_waits(alike)}"
        for why, alike in ((why, list(group)) for why, group in groupby(shown, _why))
    ]
    more = f"; and {len(tried) - len(shown)} more" if len(tried) > len(shown) else ""
    many = figure(count(len(tried), "call"), "attempt")
    refused = f" {verb(len(tried), 'was', 'were')} refused: {'; '.join(each)}{more}."
    return [say("Within 15\u00a0minutes of it ", many, refused)]


def _call(one: Refused, zone: ZoneInfo) -> str:
    mode = mode_words(one.mode) if one.mode else "a call of an unknown mode"
    return f"{mode} at {clock_seconds(one.at_us, zone)}"


def _why(one: Refused) -> str:
    """Why it was refused: said once of calls in a row that have it alike."""
    if one.wait_s is None:
        return REASONS[one.reason]
    unsaid = "the log gives no reason, but " if one.reason is None else ""
    holder = mode_words(one.holder) if one.holder else "another mode"
    return f"{unsaid}{holder} held the repeater"


def _waits(alike: Sequence[Refused]) -> str:
    """How long each would have had to wait; once, where that is the same in words."""
    waits = list(dict.fromkeys(duration(one.wait_s) for one in alike if one.wait_s is not None))
    return f" for another {_in_a_row(waits)}" if waits else ""


def _in_a_row(parts: Sequence[str]) -> str:
    """`a, b and c`."""
    *first, last = parts
    return f"{', '.join(first)} and {last}" if first else last


def _timed_out(one: TimedOut, zone: ZoneInfo) -> Sentence:
    over, slot = one.over, f" in slot {one.over.slot}" if one.over.slot else ""
    mode = mode_words(over.mode) if over.mode else "an over of an unknown mode"
    ended = f"{mode[0].upper()}{mode[1:]}{slot} ran into the "
    name = "timeout estimated" if one.estimated else "timeout"
    guess = " (estimated from its length)" if one.estimated else ""
    return say(ended, figure("time-out", name), f" at {clock_seconds(over.end_us, zone)}{guess}.")


def _down(one: Down, moment: Moment, names: TargetNames) -> Sentence:
    link = the_link(names.of_link(link_name(*one.key)))
    until = "and has not come back" if one.end_us is None else f"to {_clock_near(one.end_us, moment)}"
    return say(f"{link} was ", figure("down", "outage"), f" from {_clock_near(one.start_us, moment)} {until}.")


def _alerts(moment: Moment, names: TargetNames) -> list[Sentence]:
    said: list[Sentence] = []
    for one in (moment.incidents or ())[:LISTED]:
        since = one.raised if one.began is None else one.began
        until = "and still stands" if one.cleared is None else f"to {_clock_near(one.cleared, moment)}"
        title = whole_title(one.rule, names.of_link(one.subject))
        said.append(say(f"Alert: {title[0].lower()}{title[1:]}, from {_clock_near(since, moment)} {until}."))
    return said
