"""Which hold the data support, and why, in sentences."""

import math

from server.analytics.suggestion import (
    LEAST_DAYS,
    LEAST_GAIN,
    ByChance,
    FewDays,
    FewGaps,
    HoldChange,
    NothingSaved,
    OpenPauses,
    Suggestion,
    Supported,
)
from shared.events import MODE_LABELS
from shared.numbers import grouped

NO_CHANGE = "No change is supported by this data."


def suggestion_sentence(suggestion: Suggestion) -> str:
    """What is suggested."""
    change = suggestion.change
    if change is None:
        return NO_CHANGE
    way = "Shorten" if change.to_s < change.from_s else "Lengthen"
    return f"{way} the hold of {MODE_LABELS[change.mode]} from {change.from_s:g} s to {change.to_s:g} s."


def suggestion_reasons(suggestion: Suggestion) -> tuple[str, ...]:
    """Why."""
    reason = suggestion.reason
    return _for(reason) if isinstance(reason, Supported) else (_against(reason),)


def _for(reason: Supported) -> tuple[str, ...]:
    change, freed = reason.change, reason.idle_freed_s
    low, high = math.floor(reason.interval.low), math.ceil(reason.interval.high)
    return (
        f"It would have saved {grouped(change.saved)} shut-outs and break-ins in {reason.days} days "
        f"(95 %: {grouped(low)} to {grouped(high)}).",
        f"Counted: {grouped(reason.spared)} refused calls would have found the repeater free. Simulated: "
        f"{grouped(reason.displaced_air)} overs received by radio and {grouped(reason.displaced_others)} others would "
        "have been displaced.",
        f"Idle hold would have been {grouped(abs(freed) / 3600, 1)} hours {'less' if freed >= 0 else 'more'}.",
        f"The price: {grouped(reason.own_open)} of {grouped(reason.gaps)} turnaround gaps in "
        f"{MODE_LABELS[change.mode]} longer than the hold, {grouped(reason.own_open_now)} now; "
        f"{grouped(reason.break_ins)} break-ins, {grouped(reason.break_ins_now)} now.",
    )


def _against(reason: FewDays | NothingSaved | FewGaps | OpenPauses | ByChance) -> str:
    match reason:
        case FewDays(days):
            return f"The window has {days} days that were seen, and a change must rest on {LEAST_DAYS}."
        case NothingSaved():
            return f"No hold from 0 to 60 s of any one mode would have saved {LEAST_GAIN} shut-outs or more."
        case FewGaps(best, gaps):
            return (
                f"{_would_save(best)}, but the log shows only {grouped(gaps)} turnaround gaps in it: too few to tell "
                "whom a shorter hold would cut off."
            )
        case OpenPauses(best, own_open, gaps):
            pauses = f"all {grouped(gaps)}" if own_open == gaps else f"{grouped(own_open)} of {grouped(gaps)}"
            return f"{_would_save(best)}, but another mode could have broken in at {pauses} pauses between speakers."
        case ByChance(best):
            return (
                f"{_would_save(best)}, but the days differ too much to tell it from chance: the best of many holds "
                "always looks good."
            )


def _would_save(change: HoldChange) -> str:
    way = "Cutting" if change.to_s < change.from_s else "Lengthening"
    return (
        f"{way} {MODE_LABELS[change.mode]}'s hold from {change.from_s:g} s to {change.to_s:g} s would have saved "
        f"{grouped(change.saved)} shut-outs and break-ins"
    )
