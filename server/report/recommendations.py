"""Recommendations: only from evidence, each with the figures that it rests on; none where the data is thin."""

from collections.abc import Mapping

from server.report.month import CHANNEL, Month
from server.report.sentences import LINK_POOR, worst_link
from server.telling import words
from server.telling.caution import CAUTION, TIMERS
from server.telling.modes import mode_words
from server.telling.moments import instant_words
from server.telling.overruns import FAR_BEYOND
from server.telling.sentences import Sentence, Text, say

SEEN_ENOUGH = 0.5  #: below, the month is too thin for advice
UNREAD_TOO_MANY = 0.01
WIDE_MUCH_S, WIDE_MANY = 3600.0, 5
TIMEOUTS_OFTEN = 10
SHORT_GAPS_OFTEN, CONVERSATIONS_ENOUGH = 0.3, 50
IDLE_MONTHS, IDLE_SHARE = 6, 0.01


def advice(month: Month) -> tuple[Sentence, ...]:
    """Recommendations, each with the figures that it rests on; none where the month is thin or nothing calls for
    one."""
    if _thin(month):
        return tuple(_overrun_advice(month))
    return (
        *_overrun_advice(month),
        *_hold_advice(month),
        *_wide_advice(month),
        *_timeout_advice(month),
        *_gap_advice(month),
        *_link_advice(month),
        *duty_advice(month),
        *_idle_mode_advice(month),
        *_log_advice(month),
    )


def advice_caution(month: Month) -> str:
    """The caution that goes with what is advised of timers and of the transmitter; empty where neither is."""
    timers = not _thin(month) and (_hold_advice(month) or _timeout_advice(month))
    said = [TIMERS] if timers else []
    return " ".join([*said, *([CAUTION] if duty_advice(month) or _overrun_advice(month) else [])])


def _thin(month: Month) -> bool:
    return month.completeness.seen < SEEN_ENOUGH or not month.figures.channel.overs


def no_advice(month: Month) -> str:
    """Why nothing is recommended."""
    if _thin(month):
        return "Too little is known of the month to recommend anything."
    return "Nothing in the month’s figures calls for a change."


def _overrun_advice(month: Month) -> list[Sentence]:
    """What is advised of overs that ran on, also where little else is known of the month."""
    if not month.overruns:
        return []
    one, timeout_s = month.overruns[0], month.timers.timeout_s
    mode = "" if one.mode is None else f"{mode_words(one.mode)} "
    when = instant_words(one.start, month.zone)
    if one.seconds is not None and one.seconds < FAR_BEYOND * timeout_s:
        return [
            say(
                f"Compare the time-out in the settings, {words.duration(timeout_s)}, with the host’s: one {mode}",
                Text(f"over of {words.duration(one.seconds)}", "overrun"),
                f" ran beyond it ({when}).",
            )
        ]
    lasted = "" if one.seconds is None else f"of {words.duration(one.seconds)} "
    why = "whether the transmitter was stuck, as the end is not logged" if one.seconds is None else "what keyed it"
    return [
        say(
            f"Find out about the {mode}",
            Text("over", "overrun"),
            f" {lasted}that began {when}: {why}. Have a competent person try the hardware time-out and the remote "
            "close-down.",
        )
    ]


def _hold_advice(month: Month) -> list[Sentence]:
    it = month.shorter_hold
    if it is None:
        return []
    wanted, holder = mode_words(it.wanted), mode_words(it.held_by)
    hold, shorter = f"{it.hold_s:g}{words.GAP}s", f"{it.shorter_s:g}{words.GAP}s"
    return [
        say(
            f"Try a hold of {shorter} instead of {hold} for {holder}. {wanted} callers found the repeater held ",
            Text(f"{words.percent(it.risk)} of evening time", "shut-out risk"),
            f"; with the shorter hold it would have been {words.percent(it.risk_then)}. {holder} shut them out "
            f"{words.count(it.shut_outs, 'time')}; "
            f"{words.count(it.spared, 'call')} of theirs would have got through. {words.percent(it.open_gaps)} of "
            f"{holder}’s "
            "pauses between speakers were longer than that, and would lie open to other modes.",
        )
    ]


def _wide_advice(month: Month) -> list[Sentence]:
    talk = month.figures.talk
    if (talk.local_on_wide_s or 0) < WIDE_MUCH_S or (talk.local_on_wide or 0) < WIDE_MANY:
        return []
    return [
        say(
            "Ask for local talk on local targets: ",
            Text(words.count(talk.local_on_wide, "local conversation"), "local on wide"),
            f" went out on targets that reach wide, {words.about(talk.local_on_wide_s)} in all.",
        )
    ]


def _timeout_advice(month: Month) -> list[Sentence]:
    modes = month.figures.modes.values()
    timeouts, near = sum(its.timeouts for its in modes), sum(its.near_timeouts for its in modes)
    if timeouts < TIMEOUTS_OFTEN:
        return []
    share = timeouts / (month.figures.channel.overs or timeouts)
    return [
        say(
            f"Remind people of the time-out of {words.duration(month.timers.timeout_s)}: ",
            Text(words.count(timeouts, "over"), "timeout"),
            f" ran into it ({words.percent(share)} of all), {words.whole_number(near)} came near.",
        )
    ]


def _gap_advice(month: Month) -> list[Sentence]:
    talk = month.figures.talk
    if (
        not talk.conversations
        or talk.conversations < CONVERSATIONS_ENOUGH
        or (talk.short_gap_share or 0) < SHORT_GAPS_OFTEN
    ):
        return []
    return [
        say(
            "Ask for a pause between overs: ",
            Text(words.percent(talk.short_gap_share), "short gap"),
            f" of the pauses between speakers were shorter than {words.duration(month.timers.courtesy_gap_s)}, in "
            f"{words.count(talk.conversations, 'conversation')}.",
        )
    ]


def _flapping(flaps: int | None) -> str:
    return f" and {words.count(flaps, 'flap')}" if flaps else ""


def _link_advice(month: Month) -> list[Sentence]:
    worst = worst_link(month)
    if worst is None or worst.its.availability is None or worst.its.availability >= LINK_POOR:
        return []
    return [
        say(
            f"Look into the link {worst.name}: ",
            Text(f"{words.fine_percent(worst.its.availability)} available", "link availability"),
            f", down for {words.about(worst.its.down_s)}, in {words.count(len(worst.its.outages or ()), 'outage')}"
            f"{_flapping(worst.its.flaps)}.",
        )
    ]


def duty_advice(month: Month) -> list[Sentence]:
    """What is advised of the transmitter; the caution goes with it."""
    if _thin(month):
        return []
    share = month.figures.duty.sixty.share
    if share is None or share <= month.duty_rating or month.duty_rating >= 1:
        return []
    return [
        say(
            "Have a competent person look at the transmitter’s load: in its worst hour it was ",
            Text(f"keyed {words.percent(share)}", "duty"),
            f", and its maker’s rating in the settings is {words.percent(month.duty_rating)}.",
        )
    ]


def _idle_mode_advice(month: Month) -> list[Sentence]:
    """Modes that hardly anybody used for half a year, all of it seen well enough."""
    recent = month.trend[-IDLE_MONTHS:]
    if len(recent) < IDLE_MONTHS or any(one.seen < SEEN_ENOUGH or not one.airtime_s.get(CHANNEL) for one in recent):
        return []
    shares: Mapping[str, list[float]] = {
        mode: [one.airtime_s.get(mode, 0.0) / one.airtime_s[CHANNEL] for one in recent] for mode in month.figures.modes
    }
    return [
        say(
            f"Ask whether {mode_words(mode)} is still wanted: in each of the last {IDLE_MONTHS} months it had under "
            f"{100 * IDLE_SHARE:g}{words.GAP}% of ",
            Text("airtime", "airtime"),
            f", {words.about(month.figures.modes[mode].airtime_s)} in this one.",
        )
        for mode, mine in shares.items()
        if max(mine) < IDLE_SHARE
    ]


def _log_advice(month: Month) -> list[Sentence]:
    unread = month.completeness.unread_share
    if unread is None or unread < UNREAD_TOO_MANY:
        return []
    return [
        say(
            f"Teach airtally the host’s lines: it can’t read {words.percent(unread)} of them, so that overs may be "
            "missing. The keeper finds them on Intake."
        )
    ]
