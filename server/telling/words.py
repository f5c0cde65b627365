"""Figures in words, as a keeper would say them. Pure functions; None is `not known`."""

from server.telling.numbers import GAP, UNKNOWN, count, duration, verb, whole_number
from shared.numbers import grouped

__all__ = [
    "GAP",
    "UNKNOWN",
    "about",
    "change",
    "count",
    "duration",
    "erlang",
    "fine_percent",
    "hours",
    "minutes",
    "percent",
    "signed_percent",
    "verb",
    "whole_number",
]


NONE = "–"  #: stands in a cell where there is nothing to tell

#: What a full cell of a day-by-hour map stands for, by its seconds.
SCALE_WORDS = {900: "15 minutes", 1800: "half an hour", 3600: "a whole hour", 7200: "two hours"}


def scale_of(fullest_s: float) -> int:
    """What a full cell of a map stands for: the least of 15, 30, 60 and 120 min that holds the fullest, seconds."""
    return next((step for step in SCALE_WORDS if fullest_s <= step), max(SCALE_WORDS))


def about(seconds: float | None) -> str:
    """The same for a sentence: from ten hours on, hours are enough."""
    if seconds is None:
        return UNKNOWN
    return f"{whole_number(round(seconds / 3600))}{GAP}h" if seconds >= 36_000 else duration(seconds)


def percent(share: float | None) -> str:
    """A share (0 to 1) in percent: two digits below ten."""
    if share is None:
        return UNKNOWN
    value = 100 * share
    if value == 0:
        return f"0{GAP}%"
    if value < 0.1:
        return f"under 0.1{GAP}%"
    if value < 9.95:
        return f"{value:.1f}{GAP}%"
    if 99.5 <= value < 100:
        return f"over 99{GAP}%"  # a share that is not whole must not read as if it were
    return f"{value:.0f}{GAP}%"


def fine_percent(share: float | None) -> str:
    """A share that is near to whole, in percent to the nearest digit; never `100` where something is missing, never
    `0.0` where something is there.
    """
    if share is None:
        return UNKNOWN
    if 0 < share < 0.0005:
        return f"under 0.1{GAP}%"
    return f"100{GAP}%" if share >= 1 else f"{min(round(100 * share, 1), 99.9):.1f}{GAP}%"


def hours(seconds: float | None) -> str:
    """Hours with one digit, for a column of them."""
    if seconds is None:
        return NONE
    return f"{seconds / 3600:,.1f}" if seconds >= 180 or seconds == 0 else "under 0.1"


def minutes(seconds: float | None) -> str:
    """Whole minutes, for a cell of a map."""
    if seconds is None:
        return NONE
    return "<1" if 0 < seconds < 30 else f"{seconds / 60:.0f}"


def bare_percent(share: float | None) -> str:
    """Whole percent without its sign, for a cell of a map."""
    return NONE if share is None else f"{100 * share:.0f}"


def whole_minutes(seconds: float) -> str:
    """`12 min`, for a mean of many."""
    return f"{seconds / 60:.0f} min"


def erlang(traffic: float | None) -> str:
    if traffic is not None and 0 < traffic < 0.005:
        return f"under 0.01{GAP}erlang"  # what is there must not read as nothing
    return UNKNOWN if traffic is None else f"{traffic:.2f}{GAP}erlang"


def fine_erlang(traffic: float) -> str:
    """Traffic with three digits, for a column of it."""
    return "under 0.001" if 0 < traffic < 0.0005 else f"{traffic:.3f}"


_FRACTIONS = (
    (0.09, "a little"), (0.15, "a tenth"),
    (0.225, "a fifth"), (0.29, "a quarter"), (0.42, "a third"), (0.58, "half"), (0.7, "two thirds"),
    (0.9, "three quarters"),
)  # fmt: skip


def change(now: float | None, usual: float | None) -> str:
    """How a figure moved against its usual value, in words: `about as usual`, `up by half`, `twice the usual`."""
    if usual is None or now is None:
        return "nothing yet to compare with"
    if usual <= 0:
        return "some, though there usually is none" if now > 0 else "none, as usual"
    if now <= 0:
        return "none, though there usually is some"
    moved = now / usual - 1
    if abs(moved) < 0.075:
        return "about as usual"
    return _times(now / usual) if moved >= 0.9 else _fraction(moved)


def _times(times: float) -> str:
    if times < 2.25:
        return "twice the usual"
    return f"{times:.1f} times the usual" if times < 10 else "over ten times the usual"


def _fraction(moved: float) -> str:
    fraction = next((fraction for limit, fraction in _FRACTIONS if abs(moved) < limit), None)
    return "almost none" if fraction is None else f"{'up' if moved > 0 else 'down'} by {fraction}"


def signed_percent(now: float | None, usual: float | None) -> str | None:
    """`+52 %`, `−8 %`; None where it would say nothing."""
    if usual is None or now is None or usual <= 0 or now <= 0:
        return None
    moved = round(100 * (now / usual - 1))
    return f"{'+' if moved > 0 else '−' if moved < 0 else ''}{grouped(abs(moved))}{GAP}%"
