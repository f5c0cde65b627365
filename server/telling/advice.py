"""The list of what is advised: only from evidence, each with the figure that it rests on; none on thin data."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from server.analytics.overruns import Overrun
from server.telling import words
from server.telling.caution import CAUTION, TIMERS
from server.telling.findings import LINK_POOR, UNREAD_SHARE
from server.telling.modes import mode_words
from server.telling.moments import instant_words
from server.telling.numbers import seconds_set
from server.telling.overruns import FAR_BEYOND
from server.telling.period import Period
from server.telling.sentences import Sentence, figure, say

WIDE_MUCH_S, WIDE_MANY = 3600.0, 5
TIMEOUTS_OFTEN = 10
SHORT_GAPS_OFTEN, CONVERSATIONS_ENOUGH = 0.3, 50
IDLE_MONTHS, IDLE_SHARE = 6, 0.01


@dataclass(frozen=True)
class Advice:
    """One thing that may be worth doing."""

    figure: str  #: what it rests on, by its name among the definitions
    sentence: Sentence
    caution: str = ""  #: what goes with it


def _overrun(period: Period) -> Iterator[Advice]:
    """What is advised of overs that ran on, also where little else is known of the month."""
    if not period.overruns:
        return
    longest = period.overruns[0]
    if longest.seconds is not None and longest.seconds < FAR_BEYOND * period.timeout_s:
        yield Advice("overrun", _compare_timers(period, longest, longest.seconds), CAUTION)
    else:
        yield Advice("overrun", _find_out(period, longest), CAUTION)


def _compare_timers(period: Period, over: Overrun, seconds: float) -> Sentence:
    mode = "" if over.mode is None else f"{mode_words(over.mode)} "
    return say(
        f"Compare the time-out in the settings, {words.duration(period.timeout_s)}, with the host’s: one {mode}",
        figure(f"over of {words.duration(seconds)}", "overrun"),
        f" ran beyond it ({instant_words(over.start_us, period.zone)}).",
    )


def _find_out(period: Period, over: Overrun) -> Sentence:
    mode = "" if over.mode is None else f"{mode_words(over.mode)} "
    if over.seconds is None:
        lasted, why = "", "whether the transmitter was stuck, as the end is not logged"
    else:
        lasted, why = f"of {words.duration(over.seconds)} ", "what keyed it"
    return say(
        f"Find out about the {mode}",
        figure("over", "overrun"),
        f" {lasted}that began {instant_words(over.start_us, period.zone)}: {why}. Have a competent person try the"
        " hardware time-out and the remote close-down.",
    )


def _shorter_hold(period: Period) -> Iterator[Advice]:
    found = period.shorter_hold
    if found is None:
        return
    wanted, holder = mode_words(found.wanted), mode_words(found.held_by)
    hold, shorter = seconds_set(found.hold_s), seconds_set(found.shorter_s)
    sentence = say(
        f"Try a hold of {shorter} instead of {hold} for {holder}. {wanted} callers found the repeater held ",
        figure(f"{words.percent(found.risk)} of evening time", "shut-out risk"),
        f"; with the shorter hold it would have been {words.percent(found.risk_then)}. {holder} shut them out"
        f" {words.count(found.shut_outs, 'time')}; {words.count(found.spared, 'call')} of theirs would have got"
        f" through. {words.percent(found.open_gaps)} of {holder}’s pauses between speakers were longer than that, and"
        " would lie open to other modes.",
    )
    yield Advice("shut-out risk", sentence, TIMERS)


def _wide(period: Period) -> Iterator[Advice]:
    talk = period.figures.talk
    if (talk.local_on_wide_s or 0) < WIDE_MUCH_S or (talk.local_on_wide or 0) < WIDE_MANY:
        return
    sentence = say(
        "Ask for local talk on local targets: ",
        figure(words.count(talk.local_on_wide, "local conversation"), "local on wide"),
        f" went out on targets that reach wide, {words.about(talk.local_on_wide_s)} in all.",
    )
    yield Advice("local on wide", sentence)


def _timeouts(period: Period) -> Iterator[Advice]:
    modes = period.figures.modes.values()
    timeouts, near = sum(its.timeouts for its in modes), sum(its.near_timeouts for its in modes)
    if timeouts < TIMEOUTS_OFTEN:
        return
    share = timeouts / (period.figures.channel.overs or timeouts)
    sentence = say(
        f"Remind people of the time-out of {words.duration(period.timeout_s)}: ",
        figure(words.count(timeouts, "over"), "timeout"),
        f" ran into it ({words.percent(share)} of all), {words.whole_number(near)} came near.",
    )
    yield Advice("timeout", sentence, TIMERS)


def _short_gaps(period: Period) -> Iterator[Advice]:
    talk = period.figures.talk
    many = (talk.conversations or 0) >= CONVERSATIONS_ENOUGH
    if not many or (talk.short_gap_share or 0) < SHORT_GAPS_OFTEN:
        return
    sentence = say(
        "Ask for a pause between overs: ",
        figure(words.percent(talk.short_gap_share), "short gap"),
        f" of the pauses between speakers were shorter than {words.duration(period.courtesy_gap_s)}, in"
        f" {words.count(talk.conversations, 'conversation')}.",
    )
    yield Advice("short gap", sentence)


def _link(period: Period) -> Iterator[Advice]:
    worst = period.worst_link
    if worst is None or worst.its.availability is None or worst.its.availability >= LINK_POOR:
        return
    flaps = f" and {words.count(worst.its.flaps, 'flap')}" if worst.its.flaps else ""
    sentence = say(
        f"Look into the link {worst.name}: ",
        figure(f"{words.fine_percent(worst.its.availability)} available", "link availability"),
        f", down for {words.about(worst.its.down_s)}, in {words.count(len(worst.its.outages or ()), 'outage')}{flaps}.",
    )
    yield Advice("link availability", sentence)


def _duty(period: Period) -> Iterator[Advice]:
    share = period.figures.duty.sixty.share
    if share is None or share <= period.duty_rating or period.duty_rating >= 1:
        return
    sentence = say(
        "Have a competent person look at the transmitter’s load: in its worst hour it was ",
        figure(f"keyed {words.percent(share)}", "duty"),
        f", and its maker’s rating in the settings is {words.percent(period.duty_rating)}.",
    )
    yield Advice("duty", sentence, CAUTION)


def _idle_modes(period: Period) -> Iterator[Advice]:
    for mode in period.idle_modes:
        under = f"{100 * IDLE_SHARE:g}{words.GAP}%"
        sentence = say(
            f"Ask whether {mode_words(mode)} is still wanted: in each of the last {IDLE_MONTHS} months it had under"
            f" {under} of ",
            figure("airtime", "airtime"),
            f", {words.about(period.figures.modes[mode].airtime_s)} in this one.",
        )
        yield Advice("airtime", sentence)


def _unread(period: Period) -> Iterator[Advice]:
    intake = period.figures.intake
    share = intake.unread / intake.lines if intake.lines else 0.0
    if share >= UNREAD_SHARE:
        sentence = say(
            f"Teach airtally the host’s lines: it can’t read {words.percent(share)} of them, so that overs may be"
            " missing. The keeper finds them on Intake.",
        )
        yield Advice("lines", sentence)


#: The list, in the order of what comes first.
ADVICE: dict[str, Callable[[Period], Iterator[Advice]]] = {
    "overrun": _overrun,
    "shorter hold": _shorter_hold,
    "wide": _wide,
    "time-outs": _timeouts,
    "short gaps": _short_gaps,
    "link": _link,
    "duty": _duty,
    "idle modes": _idle_modes,
    "unread": _unread,
}


def advice(period: Period, chosen: Sequence[str] = tuple(ADVICE)) -> list[Advice]:
    """What is advised of each kind that is chosen, in that order."""
    return [one for kind in chosen for one in ADVICE[kind](period)]


def caution_of(given: Sequence[Advice]) -> str:
    """The cautions that go with some advice, each once, that of timers first; empty where none does."""
    return " ".join(caution for caution in (TIMERS, CAUTION) if any(one.caution == caution for one in given))
