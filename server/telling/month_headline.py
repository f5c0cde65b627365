"""A month in one or two sentences."""

from server.analytics.compare import CHANNEL
from server.telling import words
from server.telling.modes import by_airtime, mode_words
from server.telling.overruns import lengthless
from server.telling.period import Period
from server.telling.sentences import Sentence, Text, figure, say

MOSTLY_SEEN = 0.9


def month_headline(period: Period, title: str, seen: float) -> Sentence:
    """`seen` is the share of the month, or of what is over of it, that was seen."""
    channel = period.figures.channel
    if seen <= 0:
        return say(f"Nothing is known of {title}: no log tells of it.")
    if channel.airtime_s:
        return (*_on_air(period, title, seen), *_most(period, channel.airtime_s))
    if not channel.overs and (told := lengthless(channel.unfinished, channel.pages)):
        return say(f"How long the repeater was on the air in {title} is not known: the log tells of {told}.")
    return say(f"Nothing was on the air in {title}, as far as the log tells.")


def _on_air(period: Period, title: str, seen: float) -> Sentence:
    channel = period.figures.channel
    of = "time" if seen >= MOSTLY_SEEN else f"{words.about(seen * period.figures.window.seconds)} that were seen"
    return say(
        f"In {title}{'' if period.over else ' so far'} the repeater was on the air for ",
        figure(words.about(channel.airtime_s), "channel airtime"),
        ", ",
        figure(words.percent(channel.occupancy), "occupancy"),
        f" of the {of}; {_change_clause(period)}.",
    )


def _change_clause(period: Period) -> str:
    if not period.over:
        return "it is compared when the month is over"
    channel = period.airtime[CHANNEL]
    if channel.usual is None:
        return "there is nothing yet to compare it with"
    change = words.change(channel.now, channel.usual)
    return (
        change
        if change == "about as usual" or not channel.usual
        else f"{change} ({words.about(channel.usual)} is usual)"
    )


def _most(period: Period, whole_s: float) -> Sentence:
    """The mode that carried most."""
    modes = by_airtime(period.figures)
    if not modes or not modes[0][1].airtime_s:
        return ()
    mode, airtime_s = modes[0][0], modes[0][1].airtime_s
    if len(modes) == 1 or airtime_s == whole_s:
        return (Text(f" All of it was {mode_words(mode)}."),)
    return say(
        f" {mode_words(mode)} carried the most, ", figure(words.percent(airtime_s / whole_s), "airtime"), " of it."
    )
