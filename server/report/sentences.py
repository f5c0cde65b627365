"""What a month comes to, in sentences: headline and findings. Pure functions of a Month."""

from server.report.links import NamedLink
from server.report.month import CHANNEL, Month
from server.telling import words
from server.telling.findings import shut_out_sentence, timeout_sentence
from server.telling.modes import mode_words
from server.telling.moments import instant_words
from server.telling.overruns import lengthless, meaning
from server.telling.sentences import Sentence, Text, say
from server.telling.traffic import busy_days
from shared.zones import SECOND

LINK_POOR = 0.99
MOSTLY_SEEN = 0.9


def known(month: Month) -> bool:
    """Whether anything of the month is known."""
    return month.completeness.seen > 0


def headline(month: Month) -> Sentence:
    """The month in one or two sentences."""
    channel, modes = month.figures.channel, month.figures.modes
    if not known(month):
        return say(f"Nothing is known of {month.title}: no log tells of it.")
    if not channel.airtime_s:
        if not channel.overs and (said := lengthless(channel.unfinished, channel.pages)):
            return say(f"How long the repeater was on the air in {month.title} is not known: the log tells of {said}.")
        return say(f"Nothing was on the air in {month.title}, as far as the log tells.")
    opening = say(
        f"In {month.title}{'' if month.completeness.over else ' so far'} the repeater was on the air for ",
        Text(words.about(channel.airtime_s), "channel airtime"),
        ", ",
        Text(words.percent(channel.occupancy), "occupancy"),
        f" of the {_seen_words(month)}; {_change_clause(month)}.",
    )
    most = max(modes, key=lambda mode: modes[mode].airtime_s or 0.0, default=None)
    airtime_s = None if most is None else modes[most].airtime_s
    if not airtime_s:
        return opening
    if len(modes) == 1 or airtime_s == channel.airtime_s:
        return (*opening, Text(f" All of it was {mode_words(most)}."))
    share = airtime_s / channel.airtime_s
    return (
        *opening,
        *say(f" {mode_words(most)} carried the most, ", Text(words.percent(share), "airtime"), " of it."),
    )


def _seen_words(month: Month) -> str:
    """What the occupancy is a share of: the seen time of the month."""
    if month.completeness.seen >= MOSTLY_SEEN:
        return "time"
    return f"{words.about(month.completeness.seen * (month.end - month.start) / SECOND)} that were seen"


def _change_clause(month: Month) -> str:
    if not month.completeness.over:
        return "it is compared when the month is over"
    change = month.changes[CHANNEL]
    if change.usual is None or change.since_usual is None:
        return "there is nothing yet to compare it with"
    said = words.change(month.figures.channel.airtime_s, change.usual)
    return f"{said} ({words.about(change.usual)} is usual)" if said != "about as usual" else "about as usual"


def findings(month: Month) -> tuple[Sentence, ...]:
    """What is worth knowing, at most six sentences, each with its figures."""
    if not known(month):
        return ()
    found = [
        *_overrun_finding(month),
        shut_out_sentence(month.figures),
        timeout_sentence(month.figures, month.timers.timeout_s, overruns_told=bool(month.overruns)),
        *_mode_changes(month),
        *_busy_finding(month),
        *_link_finding(month),
    ]
    return tuple(found[:6])


def _overrun_finding(month: Month) -> list[Sentence]:
    """The longest over beyond the time-out, what it may mean, and those of which nobody knows how long they were."""
    finished = [one for one in month.overruns if one.seconds is not None]
    lost = [one for one in month.overruns if one.seconds is None]
    said = []
    for one in finished[:1]:
        more = len(finished) - 1
        further = f" {words.count(more, 'more over')} ran on beyond it." if more else ""
        said.append(
            say(
                f"One {'' if one.mode is None else mode_words(one.mode) + ' '}",
                Text("over", "overrun"),
                f" ran for {words.duration(one.seconds)}, from {instant_words(one.start, month.zone)}, "
                f"{meaning(one.seconds or 0.0, month.timers.timeout_s)}{further}",
            )
        )
    if lost:
        first, many = lost[0], len(lost) > 1
        opening = f"{words.count(len(lost), 'over')} that ran on" if many else "An over that ran on"
        of = "" if first.mode is None else f", {mode_words(first.mode)}"
        said.append(
            say(
                f"{opening} beyond the time-out {'have' if many else 'has'} ",
                Text("no end in the log", "unfinished"),
                f" (begun {instant_words(first.start, month.zone)}{of}{', the first of them' if many else ''}): either "
                f"the transmitter was stuck, or the line of {'their' if many else 'its'} end is missing.",
            )
        )
    return said


def _mode_changes(month: Month) -> list[Sentence]:
    """Modes that came, went or changed notably."""
    said: list[Sentence] = []
    for mode, change in month.changes.items():
        now = month.figures.modes[mode].airtime_s if mode in month.figures.modes else 0.0
        if mode == CHANNEL or change.since_usual is None or change.usual is None:
            continue
        name = mode_words(mode)
        if now and not change.usual:
            said.append(say(f"{name} is new: ", Text(words.about(now), "airtime"), ", and none in the months before."))
        elif change.usual and not now:
            said.append(say(f"{name} was not heard; ", Text(words.about(change.usual), "change"), " is usual."))
        elif change.notable:
            moved = words.signed_percent(now, change.usual)
            said.append(
                say(
                    f"{name} differs from the usual: ",
                    Text(words.about(now), "airtime"),
                    f", {moved} on {words.about(change.usual)}.",
                )
            )
    return said


def _busy_finding(month: Month) -> list[Sentence]:
    busy = month.figures.busy_hour
    if busy.start is None or not busy.erlang:
        return []
    return [
        say(
            "The ",
            Text("busy hour", "busy hour"),
            f" begins at {busy.start}, with ",
            Text(words.erlang(busy.erlang), "erlang"),
            f" on the mean of {busy_days(month.figures)}.",
        )
    ]


def _link_finding(month: Month) -> list[Sentence]:
    worst = worst_link(month)
    if worst is None or worst.its.availability is None:
        return []
    if worst.its.availability == 1:
        return [
            say(
                "Every link was ",
                Text("available", "link availability"),
                " for all of the time that the log tells of.",
            )
        ]
    if worst.its.availability >= LINK_POOR:
        return [
            say(
                "Every link was ",
                Text("available", "link availability"),
                f" for {words.fine_percent(worst.its.availability)} of the time or more.",
            )
        ]
    return [
        say(
            f"The link {worst.name} was ",
            Text("available", "link availability"),
            f" for {words.fine_percent(worst.its.availability)} of the time.",
        )
    ]


def worst_link(month: Month) -> NamedLink | None:
    return min(
        (link for link in month.links if link.its.availability is not None),
        key=lambda link: link.its.availability or 0.0,
        default=None,
    )
