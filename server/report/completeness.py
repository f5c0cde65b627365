"""How complete a month's data is, and what its gaps do to the figures, in sentences."""

from collections.abc import Mapping
from typing import Any

from server.report.month import Month
from server.report.tables import fine_percent
from server.web import words
from shared.zones import SECOND

LITTLE = 0.1  #: share of a month that may be missing without its hours saying too little


def completeness_words(month: Month) -> tuple[str, ...]:
    """How complete the data is, and what that does to the figures."""
    whole, figures = month.completeness, month.figures
    if whole.logged is None:
        return ("No line of any log is stamped in the month, so no figure can be told.",)
    said = []
    blind, missing = figures["window"]["blind_s"], 1 - whole.seen
    if not whole.over:
        said.append("The month is not over: figures are of what is logged so far.")
    if missing < 0.0005 and not blind:
        said.append("The whole month was seen.")
    else:
        said.append(
            f"{fine_percent(whole.seen)} of the month was seen; {words.duration(blind)} were blind time (the host was stopped, or wrote nothing)."
        )
        said.append(_missing_words(figures["channel"]["occupancy"], blind, missing, not_covered_s(month)))
    said.append(_unread_words(figures["intake"], whole.unread_share))
    return tuple(said)


def not_covered_s(month: Month) -> float:
    """Seconds of the month that no log covers and that are not blind time either: before the first line of any log and after the last."""
    whole = (month.end - month.start) / SECOND
    return max(0.0, whole * (1 - month.completeness.seen) - month.figures["window"]["blind_s"])


def _missing_words(occupancy: float | None, blind: float, missing: float, not_covered: float) -> str:
    """What a part of the month that was not seen does to the figures; seconds blind, share missing, seconds that no log covers."""
    if missing > LITTLE and not_covered > LITTLE * blind:
        return (
            f"A further {words.duration(not_covered)} is not covered by any log: hours and counts can’t be compared with those of a whole month, and "
            "shares and erlang, which are of all time that is not blind, come out too low."
        )
    if missing > LITTLE:
        return "Hours and counts are of the seen part only: they can’t be compared with those of a whole month. Shares of the seen time can, with care."
    if not occupancy or not blind:
        return "Hours and counts of the time before the log begins or after it ends are not in the figures."
    return (
        f"Airtime and counts of the rest are not in the figures: at the month’s mean occupancy about {words.duration(occupancy * blind)} on the air "
        "(estimated). Occupancy, risk and erlang are shares of the seen time and suffer little."
    )


def _unread_words(intake: Mapping[str, Any], share: float | None) -> str:
    if not intake["unread"]:
        return f"All {words.count(intake['lines'], 'line')} were read."
    return (
        f"{words.count(intake['unread'], 'line')} of {words.whole_number(intake['lines'])} ({words.percent(share)}) could not be read; counts of overs "
        "and calls may be too low by about that share."
    )
