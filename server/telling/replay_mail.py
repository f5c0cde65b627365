"""What a replay comes to, as a paragraph for a mail."""

from server.analytics.replay_result import Compared, Replay
from server.analytics.suggestion import Suggestion
from server.telling import words
from server.telling.caution import TIMERS
from server.telling.numbers import between, plain, seconds_set
from server.telling.replay_tables import holds_words
from server.telling.suggestion import suggestion_reasons, suggestion_sentence
from shared.numbers import grouped


def mail_paragraph(found: Replay, compared: Compared, advice: Suggestion, days: str, repeater: str, asked: bool) -> str:
    """What a keeper can paste into a mail to the group: one paragraph of plain text."""
    now, then, effects = compared.now, compared.then, compared.effects
    were = words.verb(now.shut_outs, "was", "were")
    opening = (
        f"{repeater}, {days}: {_many(now.shut_outs, 'call')} {were} refused because another "
        "mode held the repeater. It was held and silent for "
        f"{plain(words.duration(now.idle_hold_s))}."
    )
    middle = ""
    if asked:
        holds = plain(holds_words(found.hold_s))
        ends = compared.interval.shut_outs
        likely = f" (95 %: {between(ends.low, ends.high)})" if ends else ""
        middle = (
            f" With holds of {holds} and a time-out of {plain(seconds_set(found.timeout_s))} it would have been "
            f"{grouped(then.shut_outs)}{likely} and "
            f"{plain(words.duration(then.idle_hold_s))}: {grouped(effects.attempts_spared)} of the refused calls "
            "would have found it free, and "
            f"{_many(effects.displaced_air_overs, 'over')} would have met a longer hold. The price: "
            f"{_many(then.open_gaps, 'turnaround gap')} longer than "
            f"the hold ({grouped(now.open_gaps)} now), {_many(then.break_ins, 'break-in')} ({grouped(now.break_ins)} "
            "now), "
            f"{_many(then.overs_cut, 'over')} cut ({grouped(now.overs_cut)} now)."
        )
    reasons = f" {' '.join(suggestion_reasons(advice))}" if advice.change or not asked else ""
    return (
        f"{opening}{middle} {suggestion_sentence(advice)}{reasons} These are estimates from the log: they take it "
        "that people would have called as they did, and that refused callers would have come back as they did. "
        f"{TIMERS}"
    )


def _many(n: int, one: str) -> str:
    return plain(words.count(n, one))
