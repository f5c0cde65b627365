"""The list of what can be found in a week or a month: verdict, report, mail and pages choose from it and draw."""

from collections.abc import Callable, Iterator, Sequence

from server.analytics.figure_types import Figures, ShutOutPair
from server.analytics.overruns import Overrun
from server.telling import words
from server.telling.changes import channel_moved, modes_that_came_or_went, modes_that_moved
from server.telling.modes import mode_words
from server.telling.moments import instant_words, stretch_words
from server.telling.overruns import holds_best, meaning
from server.telling.period import Period
from server.telling.sentences import Finding, Level, Sentence, Text, figure, say
from server.telling.traffic import busy_days

ALL_SEEN = 0.995  #: share of a window from which on `none` needs no reserve
UNREAD_SHARE = 0.01  #: of the lines, above which it needs one
#: Keyed shares that people taking turns don't reach: a busy net with tails keys 95 to 98 % of an hour.
NEAR_ONE = ((60, 0.99), (30, 0.999))
BLIND_SHARE, MUCH_BLIND = 0.005, 0.1
UNFINISHED_SHARE = 0.02
NAMELESS_SHARE = 0.01  #: of the overs, from which it is told that they have no mode
LINK_POOR = 0.99


def much_unread(figures: Figures) -> bool:
    """Whether so many lines could not be read that what they tell is missed."""
    return figures.intake.unread > UNREAD_SHARE * figures.intake.lines


def reserve(figures: Figures) -> str:
    """What goes with `none`, as the end of a sentence, where a part of the window was not read or not seen."""
    if much_unread(figures):
        return ", as far as the log was read"
    return "" if figures.window.seen_share >= ALL_SEEN else ", as far as the log was seen"


def shut_out_sentence(figures: Figures) -> Sentence:
    """How many calls were shut out, and who stood most often behind whom."""
    pairs, total = figures.shut_outs, figures.attempts_shut_out
    if not pairs or not total:
        return say("Nobody was ", figure("shut out", "shut-out"), f" by another mode{reserve(figures)}.")
    refused = say(
        figure(words.count(total, "call"), "shut-out"),
        f" {words.verb(total, 'was', 'were')} refused because another mode held the repeater",
    )
    if pairs[0].attempts == total:
        return (*refused, Text(f": {_behind(pairs[0], words.verb(total, 'caller', 'callers'))}."))
    return (*refused, Text(f"{_most_often(pairs)}."))


def _most_often(pairs: Sequence[ShutOutPair]) -> str:
    """The pair that stands alone at the top, of those whose holder and caller are known; empty where none does."""
    known = [pair for pair in pairs if pair.held_by and pair.wanted]
    if not known or not holds_best([pair.attempts for pair in known]):
        return ""
    most = known[0].attempts == pairs[0].attempts
    which = "most often" if most else "of those whose holder the log tells, most often"
    return f"; {which} {_behind(known[0], 'callers')} ({words.whole_number(known[0].attempts)})"


def _behind(pair: ShutOutPair, callers: str) -> str:
    holder = mode_words(pair.held_by) if pair.held_by else "something that the log doesn’t tell"
    return f"{mode_words(pair.wanted)} {callers} while {holder} held it"


def timeout_sentence(figures: Figures, timeout_s: float, *, overruns_told: bool = False) -> Sentence:
    """What ran into the time-out, came near it, or ran on beyond it, where that is not told elsewhere; what is
    estimated stands apart.
    """
    channel = figures.channel
    if not channel.overs and channel.unfinished:
        return say("Whether an over ran into the time-out is not known: no over has an end in the log.")
    limit = words.duration(timeout_s)
    logged, near, estimated = _timeouts(figures)
    beyond = 0 if overruns_told else channel.overruns
    if not any((logged, near, estimated, beyond)):
        return _no_timeout(limit, overruns_told, reserve(figures))
    first = words.count(logged, "over") if logged else "No over"
    said = say(figure(f"{first} ran into the time-out of {limit}", "timeout"))
    said += _guessed(estimated, bool(logged)) if estimated else ()
    if near:
        said += say(figure(f"; {words.whole_number(near)} came near it", "near timeout"))
    if beyond:
        said += say(figure(f"; {words.whole_number(beyond)} ran on beyond it", "overrun"))
    return (*said, Text("."))


def _timeouts(figures: Figures) -> tuple[int, int, int]:
    """Of all modes: logged, near, by length."""
    modes = figures.modes.values()
    return (
        sum(its.timeouts for its in modes),
        sum(its.near_timeouts for its in modes),
        sum(its.timeouts_estimated for its in modes),
    )


def _no_timeout(limit: str, overruns_told: bool, reserved: str) -> Sentence:
    none, timeout = f"No {'other ' if overruns_told else ''}over ran into the ", figure("time-out", "timeout")
    return say(none, timeout, f" of {limit}, and none ", figure("came near", "near timeout"), f"{reserved}.")


def _guessed(estimated: int, more: bool) -> Sentence:
    many = f"{words.whole_number(estimated)}{' more' if more else ''} (estimated)"
    length = f"{words.verb(estimated, 'its', 'their')} length"
    return say(figure(f"; {many} ran into it by {length}", "timeout estimated"))


def level_of_none(figures: Figures) -> Level:
    """`None` is fine only where enough was seen and read."""
    enough = 1 - figures.window.seen_share < MUCH_BLIND and not much_unread(figures)
    return "fine" if enough else "note"


def _overruns(period: Period) -> Iterator[Finding]:
    """The longest over beyond the time-out, what it may mean, and those of which nobody knows how long they were."""
    finished = [over for over in period.overruns if over.seconds is not None]
    lost = [over for over in period.overruns if over.seconds is None]
    if finished:
        yield Finding("overrun", "look", _ran_on(period, finished), "time-outs", about_duty=True)
    if lost:
        yield Finding("unfinished", "look", _never_ended(period, lost), "time-outs", about_duty=True)


def _ran_on(period: Period, finished: Sequence[Overrun]) -> Sentence:
    longest, more = finished[0], len(finished) - 1
    further = f" {words.count(more, 'more over')} ran on beyond it." if more else ""
    seconds = longest.seconds or 0.0
    return say(
        f"One {'' if longest.mode is None else mode_words(longest.mode) + ' '}",
        figure("over", "overrun"),
        f" ran for {words.duration(seconds)}, from {instant_words(longest.start_us, period.zone)}, "
        f"{meaning(seconds, period.timeout_s)}{further}",
    )


def _never_ended(period: Period, lost: Sequence[Overrun]) -> Sentence:
    first, many = lost[0], len(lost)
    opening = "An over that ran on" if many == 1 else f"{words.count(many, 'over')} that ran on"
    of = "" if first.mode is None else f", {mode_words(first.mode)}"
    begun = f"begun {instant_words(first.start_us, period.zone)}{of}{', the first of them' if many > 1 else ''}"
    return say(
        f"{opening} beyond the time-out {words.verb(many, 'has', 'have')} ",
        figure("no end in the log", "unfinished"),
        f" ({begun}): either the transmitter was stuck, or the line of {words.verb(many, 'its', 'their')} end is"
        " missing.",
    )


def _duty(period: Period) -> Iterator[Finding]:
    """An hour, or half of it, keyed so fully that people who take turns can't be it."""
    fullest = dict(period.figures.duty)
    for minutes, limit in NEAR_ONE:
        share, span = fullest[minutes].share, fullest[minutes].span
        if share is None or span is None or share < limit:
            continue
        keyed = say(
            "The transmitter was keyed for ",
            figure(f"{words.percent(share)} of {minutes}{words.GAP}min", "duty"),
            f" ({stretch_words(*span, period.zone)}): see whether people were talking, and whether it is rated for"
            " that.",
        )
        yield Finding("duty", "look", keyed, "duty", about_duty=True)
        return


def _unread(period: Period) -> Iterator[Finding]:
    intake = period.figures.intake
    if much_unread(period.figures):
        unread = say(
            figure(f"{words.percent(intake.unread / intake.lines)} of the log lines", "lines"),
            f" ({words.whole_number(intake.unread)}) could not be read: what they tell is missing here.",
        )
        yield Finding("lines", "look", unread, "intake")


def _no_mode(period: Period) -> Iterator[Finding]:
    """Overs of which the mode was not read: each mode has more than is told of it, by how much is not known."""
    whole = period.figures.channel.overs or 0
    nameless = whole - sum(its.overs for its in period.figures.modes.values())
    if nameless >= max(1, NAMELESS_SHARE * whole):
        sentence = say(
            figure(f"{words.percent(nameless / whole)} of the overs", "over"),
            f" ({words.whole_number(nameless)}) have no mode that was read: what is told of each mode here is too"
            " little. See whether the dialect reads the mode on all lines.",
        )
        yield Finding("over", "look", sentence, "intake")


def _blind(period: Period) -> Iterator[Finding]:
    window = period.figures.window
    share = 1 - window.seen_share
    if share >= BLIND_SHARE:
        blind = say(
            "For ",
            figure(f"{words.about(window.blind_s)} ({words.percent(share)})", "blind time"),
            " there was no log: whatever happened then is not in these figures.",
        )
        yield Finding("blind time", "look" if share >= MUCH_BLIND else "note", blind, "intake")


def _edges(period: Period) -> Iterator[Finding]:
    if period.edges:
        yield Finding("blind time", "note", say(period.edges), "intake")


def _unfinished(period: Period) -> Iterator[Finding]:
    channel = period.figures.channel
    unfinished = channel.unfinished
    if unfinished and unfinished / (unfinished + (channel.overs or 0)) >= UNFINISHED_SHARE:
        no_end = say(
            figure(words.count(unfinished, "over has", "overs have"), "unfinished"),
            f" no end in the log, and {words.verb(unfinished, 'adds', 'add')} no airtime.",
        )
        yield Finding("unfinished", "note", no_end, "intake")


def _moved(period: Period) -> Iterator[Finding]:
    if period.over and period.airtime:
        yield from channel_moved(period)
        yield from modes_that_moved(period)


def _shut_out(period: Period) -> Iterator[Finding]:
    total, usual = period.figures.attempts_shut_out or 0, period.shut_outs.usual
    unusual = bool(period.shut_outs.notable) and total > (usual or 0)
    sentence = shut_out_sentence(period.figures)
    if unusual:
        sentence = (*sentence, Text(f" A usual {period.kind} has {words.whole_number(usual)}."))
    level: Level = "look" if unusual else "note" if total else level_of_none(period.figures)
    yield Finding("shut-out", level, sentence, "shut-outs")


def _timed_out(period: Period) -> Iterator[Finding]:
    figures = period.figures
    logged, _, estimated = _timeouts(figures)
    level: Level = "note" if logged or estimated or figures.channel.overruns else level_of_none(figures)
    told = period.overruns_whole and bool(period.overruns)
    yield Finding("timeout", level, timeout_sentence(figures, period.timeout_s, overruns_told=told), "time-outs")


def _busy_hour(period: Period) -> Iterator[Finding]:
    busy = period.figures.busy_hour
    if busy.start is not None and busy.erlang:
        begins = say(
            "The ",
            figure("busy hour", "busy hour"),
            f" begins at {busy.start}, with ",
            figure(words.erlang(busy.erlang), "erlang"),
            f" on the mean of {busy_days(period.figures)}.",
        )
        yield Finding("busy hour", "note", begins)


def _links(period: Period) -> Iterator[Finding]:
    worst = period.worst_link
    if worst is None or worst.its.availability is None:
        return
    share = worst.its.availability
    available = figure("available", "link availability")
    if share == 1:
        sentence = say("Every link was ", available, " for all of the time that the log tells of.")
    elif share >= LINK_POOR:
        sentence = say("Every link was ", available, f" for {words.fine_percent(share)} of the time or more.")
    else:
        sentence = say(f"The link {worst.name} was ", available, f" for {words.fine_percent(share)} of the time.")
    yield Finding("link availability", "note" if share < LINK_POOR else "fine", sentence)


#: The list.
FINDINGS: dict[str, Callable[[Period], Iterator[Finding]]] = {
    "overruns": _overruns,
    "duty": _duty,
    "unread": _unread,
    "no mode": _no_mode,
    "blind": _blind,
    "edges": _edges,
    "unfinished": _unfinished,
    "moved": _moved,
    "came or went": modes_that_came_or_went,
    "shut out": _shut_out,
    "timed out": _timed_out,
    "busy hour": _busy_hour,
    "links": _links,
}


def findings(period: Period, chosen: Sequence[str]) -> list[Finding]:
    """What is found of each kind that is chosen, in that order."""
    return [finding for kind in chosen for finding in FINDINGS[kind](period)]
