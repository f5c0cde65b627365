"""What is said of the repeater's hearing: how it stands, what changed, what to check first. Nothing of a station.

What to check is common practice, no source.
"""

import datetime as dt
from collections.abc import Sequence

from server.analytics.reception import Reception
from server.analytics.reception_changes import LEAST_DB, LEAST_PCT, Change, Kind, Size
from server.telling.moments import MONTHS, day_name
from server.telling.numbers import GAP, UNKNOWN, count
from shared.numbers import grouped

NOT_KNOWN = "How well the repeater hears is not known"
LATELY = 7  # days without knowledge that need no reason
FEW = 5  #: a smaller count could tell of a person
NO_LEVEL = "Your host logs no level"
TEACH = (
    "See whether the host can log a level in dBm or an error rate with each over, then teach the line:"
    " `airtally adopt`, or `rssi_dbm` and `ber_pct` in the dialect."
)
NO_CHANGE = (
    "There was no day from which stations came in weaker or stronger, or with more errors, for a week or more. "
    "A slow loss over months is not told here: it can't be told from a season."
)
REGULARS_NOTE = "pairs of station and mode that are heard on ten days or more; nothing is told of any of them"
READINGS_NOTE = "one for each station, mode and day: the middle of its overs"
KNOWN_NOTE = "three regular stations at least were heard"
CHECKS = {
    Kind.DEAF: (
        "Feeder and connectors: a loose, corroded or damaged joint.",
        "Water in the cable or in a connector, above all where it gets worse after rain.",
        "The preamplifier and its supply, and filters, if there are any.",
        "The antenna itself.",
        "If the transmitter shares the feeder: its reflected power shows a fault that both share.",
    ),
    Kind.BETTER: (
        "Was something mended, changed or set otherwise that day? Write it down.",
        "If nothing was, how the host reckons the level may have changed, with a new version or setting.",
    ),
    Kind.NOISE: (
        "A new neighbour: another transmitter or new equipment on the site or near it.",
        "The receiver's input on a quiet channel: is its noise higher than it was?",
        "The repeater's own transmitter: does the receiver hear worse while it is keyed?",
    ),
}
BY_HOURS = (
    "A source that runs only then: lights, a charger, a heater, solar or pump gear, a transmitter keyed then.",
    "Listen on the input unsquelched when it begins and ends; ask the site's other users what is switched.",
)


def few(n: int) -> str:
    """A count of stations, without telling of a small group."""
    return grouped(n) if n == 0 or n >= FEW else f"fewer than {FEW}"


def date_words(day: dt.date) -> str:
    """`Mon 12 Oct`."""
    return f"{day_name(day)} {MONTHS[day.month - 1][:3]}"


def signed(value: float | None, unit: str = "") -> str:
    """`−6.1 dB`, `+0.4`."""
    if value is None:
        return UNKNOWN
    shown = grouped(abs(value), 1)
    return f"{'' if float(shown.replace(',', '')) == 0 else '−' if value < 0 else '+'}{shown}{unit}"


def range_words(low: float | None, high: float | None) -> str:
    """`−6.8 to −5.2`."""
    return UNKNOWN if low is None or high is None else f"{signed(low)} to {signed(high)}"


def hours_words(hours: Sequence[int]) -> str:
    """`between 22:00 and 05:00`, of hours one after the other."""
    return f"between {hours[0]:02d}:00 and {(hours[-1] + 1) % 24:02d}:00"


def level_counts(change: Change) -> bool:
    """Whether it is told by its level."""
    return change.level is not None and change.level.counts(LEAST_DB)


def size_words(change: Change) -> str:
    """`6.1 dB weaker (5.2 to 6.8)`; `1.9 points higher (1.6 to 2.2)`."""
    size, unit, down, up = change.errors, "points", "lower", "higher"
    if level_counts(change):
        size, unit, down, up = change.level, "dB", "weaker", "stronger"
    assert size is not None
    return f"{grouped(abs(size.size), 1)}{GAP}{unit} {down if size.size < 0 else up} ({_bounds(size)})"


def only_words(change: Change) -> str:
    """`, only between 22:00 and 05:00`; empty where it holds at all hours."""
    return f", only {hours_words(change.hours)}" if change.hours else ""


def _bounds(size: Size) -> str:
    low, high = (size.low, size.high) if size.size > 0 else (-size.high, -size.low)
    return f"{grouped(low, 1)} to {grouped(high, 1)}"


def change_words(change: Change) -> str:
    """One change as a sentence: `From Mon 12 Oct on, stations came in 6.1 dB weaker (5.2 to 6.8).`"""
    what = "stations came in" if level_counts(change) else "bit errors were"
    local = " local time" if change.hours else ""
    return f"From {date_words(change.day)} on, {what} {size_words(change)}{only_words(change)}{local}."


def since_words(change: Change) -> str:
    """The same of what goes on."""
    what = "stations have come in" if level_counts(change) else "bit errors have been"
    return f"Since {date_words(change.day)} {what} {size_words(change)}{only_words(change)}."


def day_bounds_words(change: Change) -> str:
    """`between Sun 11 and Tue 13 Oct`; empty where the data leaves no doubt."""
    if change.earliest == change.latest:
        return ""
    return f"between {date_words(change.earliest)} and {date_words(change.latest)}"


def checks(change: Change) -> tuple[str, ...]:
    """What to check first, a sentence each."""
    return (BY_HOURS if change.hours and change.kind is not Kind.BETTER else ()) + CHECKS[change.kind]


def leads_to_the_mast(change: Change) -> bool:
    """Whether the checks lead to feeder, antenna or transmitter."""
    return change.kind is not Kind.BETTER


def standing(changes: Sequence[Change]) -> list[Change]:
    """What did not end: no later change of the same hours takes back half of it or more. The latest first."""
    left: list[Change] = []
    for change in sorted(changes, key=lambda one: one.day):
        kept = [one for one in left if not _takes_back(change, one)]
        if len(kept) == len(left):
            kept.append(change)
        left = kept
    return left[::-1]


def _takes_back(later: Change, before: Change) -> bool:
    if (later.hours is None) != (before.hours is None) or not set(later.hours or (0,)) & set(before.hours or (0,)):
        return False
    for mine, its, least in ((later.level, before.level, LEAST_DB), (later.errors, before.errors, LEAST_PCT)):
        if its is not None and its.counts(least):
            return mine is not None and mine.size * its.size < 0 and abs(mine.size) >= abs(its.size) / 2
    return False


def headline(found: Reception) -> str:
    """How it stands, in a sentence or two: what the keeper needs to know first."""
    why = not_known(found)
    if why:
        return f"{NOT_KNOWN}: {why}"
    last = max(day.day for day in found.days if day.shift_db is not None or day.errors_pct is not None)
    missing = (found.days[-1].day - last).days
    if not missing:
        return _standing_words(found)
    said = f"{_standing_words(found)[:-1]}, as far as it is known: up to {date_words(last)}."
    if missing <= LATELY:
        return said
    return f"{said} Nothing is known after that: on no later day were three regular stations heard."


def _standing_words(found: Reception) -> str:
    faults = [one for one in standing(found.changes) if one.kind is not Kind.BETTER]
    if faults:
        more = f" There is {count(len(faults) - 1, 'more change')} for the worse." if len(faults) > 1 else ""
        return since_words(faults[0]) + more
    if not found.changes:
        return (
            "Reception is as usual: on no day did stations begin to come in weaker, or with more errors, and stay so."
        )
    latest, over = found.changes[-1], [one for one in found.changes if one.kind is not Kind.BETTER]
    if not over:
        return since_words(latest)
    what = "the level that fell" if level_counts(over[-1]) else "the bit errors that rose"
    began = f"{what} on {date_words(over[-1].day)}{only_words(over[-1])}"
    return (
        f"Reception is as usual again since {date_words(latest.day)}: {began}{',' if over[-1].hours else ''} went back."
    )


def steps(found: Reception) -> tuple[str, ...]:
    """What to do where something is missing, a sentence or two each."""
    if found.overs.every and not found.overs.measured:
        return (TEACH,)
    if found.overs.measured and not found.readings:
        return ("See whether the host can log the station of each over, then teach the line: `airtally adopt`.",)
    if not_known(found) and found.readings:
        return (
            "It needs three stations, each heard on ten days or more of 13 weeks. Nothing is wrong: as more is logged,"
            " more is known.",
        )
    if found.readings and not found.levels:
        return (f"{NO_LEVEL}: only error rates are told, which change later than levels do. {TEACH}",)
    return ()


def besides_words(change: Change) -> str:
    """What the measure did by which the change is not told: `Bit errors: +0.9 points (+0.8 to +1.1).`"""
    by_level = level_counts(change)
    size, what, unit = (change.errors, "Bit errors", "points") if by_level else (change.level, "Level", "dB")
    return "" if size is None else f"{what}: {signed(size.size)}{GAP}{unit} ({range_words(size.low, size.high)})."


def not_known(found: Reception) -> str:
    """Why nothing is known, as the end of a sentence; empty where something is."""
    if not found.overs.every:
        return "no over was received by radio in these weeks."
    if not found.overs.measured:
        return f"{NO_LEVEL[0].lower()}{NO_LEVEL[1:]} and no error rate with its overs."
    if not found.readings:
        return "the overs that have a level or an error rate name no station, so nothing can be compared."
    if all(day.shift_db is None and day.errors_pct is None for day in found.days):
        return f"on no day were three stations heard that are heard again and again (regulars: {few(found.regulars)})."
    return ""
