"""Numbers with their nouns and verbs: `1 over was`, `1,204 overs were`. Pure; None is `not known`."""

import math

from server.analytics.figure_types import Stations, Withheld
from shared.numbers import grouped
from shared.zones import SECOND

GAP = "\u00a0"  # keeps a number and its unit on one line
UNKNOWN = "not known"


def whole_number(n: float | None) -> str:
    """Thousands are separated."""
    return UNKNOWN if n is None else grouped(n)


def number(value: float | None, digits: int, unit: str = "") -> str:
    """A number, or that it is not known."""
    return UNKNOWN if value is None else f"{grouped(value, digits)}{unit}"


def count(n: float | None, one: str, many: str | None = None) -> str:
    """`1 over`, `14 overs`, `1,204 overs`."""
    return f"{whole_number(n)}{GAP}{one if n == 1 else many or one + 's'}"


def stations(n: Stations) -> str:
    """A count of stations, or the words that stand in its place."""
    return str(n) if isinstance(n, Withheld) else whole_number(n)


def plain(text: str) -> str:
    """For a mail or a terminal, which keep no words together."""
    return text.replace(GAP, " ")


def estimated(n: float | None) -> str:
    """`6 estimated`: the word stands at each estimate."""
    return UNKNOWN if n is None else f"{whole_number(n)} estimated"


def verb(n: float, one: str, many: str) -> str:
    """The form of a verb that goes with a count: `was` or `were`."""
    return one if n == 1 else many


def elapsed(seconds: float) -> str:
    """How long something goes on or is past: as `duration`, in days from three days on: `30 days`."""
    if seconds < 3 * 86_400:
        return duration(seconds)
    return count(round(seconds / 86_400), "day")


def duration(seconds: float | None) -> str:
    """Seconds as `42 s`, `5 min 12 s`, `48 min`, `14 h 32 min`, `131 h`; no more than three digits matter."""
    if seconds is None:
        return UNKNOWN
    if 0 < seconds < 9.95:
        return f"{seconds:.1f}{GAP}s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole}{GAP}s"
    if whole < 600:
        return f"{whole // 60}{GAP}min" + (f" {whole % 60}{GAP}s" if whole % 60 else "")
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes}{GAP}min"
    if minutes < 6000:
        return f"{minutes // 60}{GAP}h" + (f" {minutes % 60}{GAP}min" if minutes % 60 else "")
    return f"{whole_number(round(minutes / 60))}{GAP}h"


def exact_duration(us: float) -> str:
    """Microseconds to the second, for evidence that a log is searched by: `3 min 10 s`, `2 h 5 min`, `3 days 4 h`."""
    whole = round(us / SECOND)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min" + (f" {whole % 60} s" if whole % 60 else "")
    if whole < 48 * 3600:
        return f"{whole // 3600} h" + (f" {whole % 3600 // 60} min" if whole % 3600 // 60 else "")
    return f"{whole // 86400} days" + (f" {whole % 86400 // 3600} h" if whole % 86400 // 3600 else "")


def seconds_set(seconds: float) -> str:
    """A timer as it is set: `20 s`, `7.5 s`."""
    return f"{seconds:g}{GAP}s"


def minutes_set(minutes: int) -> str:
    """The length of a window that slides: `30 min`."""
    return f"{minutes}{GAP}min"


def tenths(seconds: float) -> str:
    """The length of one over: `4.2 s`."""
    return f"{seconds:.1f} s"


def minutes_to_wait(seconds: float) -> str:
    """Rounded up: after that long a door is open again."""
    return f"{math.ceil(seconds / 60)} min"


def between(low: float, high: float) -> str:
    """`8 to 14`, the ends of an interval of counts."""
    return f"{grouped(low)} to {grouped(high)}"


def percent_set(percent: int) -> str:
    """A limit as it is set: `45 %`."""
    return f"{percent}{GAP}%"


def shares_between(low: float, high: float) -> str:
    """`8 to 14 %`, the ends of an interval of shares."""
    return f"{100 * low:.0f} to {100 * high:.0f}{GAP}%"


def near_whole(share: float) -> str:
    """A share in whole percent, with a digit more near the whole, where limits lie: `98 %`, `99.9 %`."""
    return f"{100 * share:.1f}".removesuffix(".0") + " %" if 0.98 < share < 1 else f"{100 * share:.0f} %"
