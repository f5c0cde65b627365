"""What the Transmitter page says of the alerts themselves: whether they reach anybody, and what another limit would
have raised.
"""

from zoneinfo import ZoneInfo

from server.telling import words
from server.telling.moments import instant_words
from server.telling.numbers import percent_set
from server.telling.unread import NO_LINE, NONE_UNDERSTOOD, NOT_READ

NO_NOTICES = "No notice is sent to anybody: set `notify` under `[alerts]` in the station file"
TRY_NOTICES = f"{NO_NOTICES}, then try `airtally alerts test`."
FOUND_AFTERWARDS = (
    "Incidents from before `airtally serve` was started were found in the log afterwards; no notices were sent."
)
ANSWER_NOT_KNOWN = "How many alerts another limit would have raised is not known: no log tells of these weeks."


def nothing_raised(untold: str, seen: str) -> str:
    """Said where there is no incident; `untold`: why nothing is known; `seen`: how far these weeks were seen."""
    if untold:
        return f"Nothing is known of these weeks: {NO_LINE if untold == NOT_READ else NONE_UNDERSTOOD}."
    return f"The rules raised nothing in these weeks{seen}."


def not_got_through(title: str, place: str, tries: int, trouble: str, next_us: int | None, zone: ZoneInfo) -> str:
    """Of a notice that fails; `next_us`: when it is tried again, None where only the next start does."""
    again = "at the next start" if next_us is None else f"after {instant_words(next_us, zone)}"
    return (
        f"“{title}” has not got through to {place} ({words.count(tries, 'try', 'tries')}): {trouble} It is tried again "
        f"{again}."
    )


def would_have_raised(percent: int, minutes: int, *, quiet: bool, alerts: int) -> str:
    """What a limit of the duty rule would have raised."""
    hours = "in the quiet hours" if quiet else "by day"
    return (
        f"With a limit of {percent_set(percent)} of {minutes} minutes {hours}: {words.count(alerts, 'alert')} in these "
        "weeks."
    )


def as_it_is_set(limit: float, alerts: int) -> str:
    """What the limit in force, a share, raised."""
    return f"As it is set ({words.percent(limit)}): {words.count(alerts, 'alert')}."
