"""How complete a month's data is, and what its gaps do to the figures, in sentences."""

from server.analytics.figure_types import Figures, LineCounts
from server.telling import words
from server.telling.unseen import NO_LINE

LITTLE = 0.1  #: share of a month that may be missing without its hours saying too little


def completeness_words(figures: Figures, seen: float, *, over: bool) -> tuple[str, ...]:
    """How complete the data is, and what that does to the figures. `seen` is the share of the month, or of what is over
    of it, that was seen.
    """
    if not seen:
        return ("No log tells of the month, so no figure can be told.",)
    opening = () if over else ("The month is not over: figures are of what is logged so far.",)
    return (*opening, *_seen_words(figures, seen, over=over), _unread_words(figures.intake))


def _seen_words(figures: Figures, seen: float, *, over: bool) -> tuple[str, ...]:
    blind = figures.window.blind_s
    if blind:
        so_far = "" if over else " so far"
        return (
            f"{words.fine_percent(seen)} of the month{so_far} was seen; {words.duration(blind)} were blind time (no log"
            " tells of it: before its first line or after its last, while the host was stopped, or while it wrote"
            " nothing).",
            _missing_words(figures.channel.occupancy, blind, 1 - seen),
        )
    if not figures.intake.lines:
        return (NO_LINE,)
    return ("The whole month was seen." if over else "All of the month so far was seen.",)


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


def _unread_words(intake: LineCounts) -> str:
    if not intake.unread:
        return f"All {words.count(intake.lines, 'line')} were read."
    share = words.percent(intake.unread / intake.lines)
    return (
        f"{words.count(intake.unread, 'line')} of {words.whole_number(intake.lines)} ({share}) could not be read;"
        " counts of overs and calls may be too low by about that share."
    )


def rating_words(duty_rating: float) -> str:
    """What the transmitter is rated for; empty where it may be keyed without end."""
    return f"The maker’s rating in the settings is {words.percent(duty_rating)} of an hour." if duty_rating < 1 else ""


def no_incidents(*, watched: bool) -> str:
    return "No alert was raised." if watched else "The alert rules find nothing in the month’s log."
