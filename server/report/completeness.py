"""How complete a month's data is, and what its gaps do to the figures, in sentences."""

from server.analytics.figure_types import LineCounts
from server.report.month import Month
from server.telling import words
from server.telling.unseen import NO_LINE

LITTLE = 0.1  #: share of a month that may be missing without its hours saying too little


def completeness_words(month: Month) -> tuple[str, ...]:
    """How complete the data is, and what that does to the figures."""
    whole, figures = month.completeness, month.figures
    if not whole.seen:
        return ("No log tells of the month, so no figure can be told.",)
    said = []
    blind, missing = figures.window.blind_s, 1 - whole.seen
    if not whole.over:
        said.append("The month is not over: figures are of what is logged so far.")
    if not blind:
        said.append(
            NO_LINE
            if not figures.intake.lines
            else "The whole month was seen."
            if whole.over
            else "All of the month so far was seen."
        )
    else:
        said.append(
            f"{words.fine_percent(whole.seen)} of the month{'' if whole.over else ' so far'} was seen; "
            f"{words.duration(blind)} were blind time (no log tells of it: before its first line "
            "or after its last, while the host was stopped, or while it wrote nothing)."
        )
        said.append(_missing_words(figures.channel.occupancy, blind, missing))
    said.append(_unread_words(figures.intake, whole.unread_share))
    return tuple(said)


def _missing_words(occupancy: float | None, blind: float, missing: float) -> str:
    """What a part of the month that was not seen does to the figures; seconds blind, share missing."""
    if missing > LITTLE:
        return (
            "Hours and counts are of the seen part only: they can’t be compared with those of a whole month. Shares "
            "of the seen time can, with care."
        )
    if not occupancy:
        return "Hours and counts of the rest are not in the figures."
    return (
        "Airtime and counts of the rest are not in the figures: at the month’s mean occupancy about "
        f"{words.duration(occupancy * blind)} on the air "
        "(estimated). Occupancy, risk and erlang are shares of the seen time and suffer little."
    )


def _unread_words(intake: LineCounts, share: float | None) -> str:
    if not intake.unread:
        return f"All {words.count(intake.lines, 'line')} were read."
    return (
        f"{words.count(intake.unread, 'line')} of {words.whole_number(intake.lines)} ({words.percent(share)}) could "
        "not be read; counts of overs "
        "and calls may be too low by about that share."
    )
