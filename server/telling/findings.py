"""What a window comes to, a sentence a subject, for the verdict of a week, the report of a month and the page of
sharing alike.
"""

from server.analytics.figure_types import Figures, ShutOutPair
from server.telling import words
from server.telling.modes import mode_words
from server.telling.overruns import holds_best
from server.telling.sentences import Sentence, Text, figure, say

ALL_SEEN = 0.995  #: share of a window from which on `none` needs no reserve
UNREAD_SHARE = 0.01  #: of the lines, above which it needs one


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
    said = say(
        figure(words.count(total, "call"), "shut-out"),
        f" {words.verb(total, 'was', 'were')} refused because another mode held the repeater",
    )
    if pairs[0].attempts == total:
        return (*said, Text(f": {_behind(pairs[0], words.verb(total, 'caller', 'callers'))}."))
    known = [pair for pair in pairs if pair.held_by and pair.wanted]
    if not known or not holds_best([pair.attempts for pair in known]):
        return (*said, Text("."))
    most = known[0].attempts == pairs[0].attempts
    which = "most often" if most else "of those whose holder the log tells, most often"
    return (*said, Text(f"; {which} {_behind(known[0], 'callers')} ({words.whole_number(known[0].attempts)})."))


def _behind(pair: ShutOutPair, callers: str) -> str:
    holder = mode_words(pair.held_by) if pair.held_by else "something that the log doesn’t tell"
    return f"{mode_words(pair.wanted)} {callers} while {holder} held it"


def timeout_sentence(figures: Figures, timeout_s: float, *, overruns_told: bool = False) -> Sentence:
    """What ran into the time-out, came near it, or ran on beyond it, where that is not told elsewhere; what is
    estimated stands apart.
    """
    modes, channel = figures.modes.values(), figures.channel
    logged, near = sum(its.timeouts for its in modes), sum(its.near_timeouts for its in modes)
    estimated = sum(its.timeouts_estimated for its in modes)
    beyond = 0 if overruns_told else channel.overruns
    limit = words.duration(timeout_s)
    if not channel.overs and channel.unfinished:
        return say("Whether an over ran into the time-out is not known: no over has an end in the log.")
    if not (logged or near or estimated or beyond):
        return _no_timeout(limit, overruns_told, reserve(figures))
    first = words.count(logged, "over") if logged else "No over"
    said = say(figure(f"{first} ran into the time-out of {limit}", "timeout"))
    said += _guessed(estimated, bool(logged)) if estimated else ()
    if near:
        said += say(figure(f"; {words.whole_number(near)} came near it", "near timeout"))
    if beyond:
        said += say(figure(f"; {words.whole_number(beyond)} ran on beyond it", "overrun"))
    return (*said, Text("."))


def _no_timeout(limit: str, overruns_told: bool, reserved: str) -> Sentence:
    none, timeout = f"No {'other ' if overruns_told else ''}over ran into the ", figure("time-out", "timeout")
    return say(none, timeout, f" of {limit}, and none ", figure("came near", "near timeout"), f"{reserved}.")


def _guessed(estimated: int, more: bool) -> Sentence:
    many = f"{words.whole_number(estimated)}{' more' if more else ''} (estimated)"
    length = f"{words.verb(estimated, 'its', 'their')} length"
    return say(figure(f"; {many} ran into it by {length}", "timeout estimated"))
