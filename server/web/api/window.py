"""What a program asks for: the window in the query of an address."""

import re
from collections.abc import Iterable
from zoneinfo import ZoneInfo

from shared.errors import UnusableError
from shared.events import MODES
from shared.text import escaped
from shared.windows import AS_QUERY, named_instant, named_window
from shared.zones import DAY

NAMES = ("from", "to", "week", "month")
MOST_DAYS = 3660  #: longer windows are for the command line: an answer may not hold up the pages
_PLUS_LOST = re.compile(r"([T ]\d{2}:\d{2}\S*) (\d{2}:?\d{2})")  # a plus sign in an address reads as a blank


def asked(query: Iterable[tuple[str, str]], names: tuple[str, ...]) -> dict[str, str]:
    """What the query gives of some names. UnusableError, with one sentence, where it has another name, or one twice."""
    pairs = list(query)
    unknown = [name for name, _ in pairs if name not in names]
    if unknown:
        known = f"{', '.join(names[:-1])} and {names[-1]} are"
        raise UnusableError(f"{escaped(unknown[0][:40])!r} is not known here: {known}.")
    if len(pairs) > len({name for name, _ in pairs}):
        raise UnusableError("A name stands twice in the query: give each once.")
    return {name: _PLUS_LOST.sub(r"\1+\2", text) for name, text in pairs if text}


def asked_moment(query: Iterable[tuple[str, str]], zone: ZoneInfo) -> tuple[int, str | None]:
    """The instant, microseconds UTC, and the mode that was wanted. UnusableError, with one sentence."""
    given = asked(query, ("at", "mode"))
    mode = given.get("mode")
    if mode is not None and mode not in MODES:
        raise UnusableError(f"{escaped(mode[:40])!r} is no mode: {', '.join(MODES)} are.")
    if "at" not in given:
        raise UnusableError("Name the moment: at=2026-11-17T20:15.")
    return named_instant(given["at"], zone), mode


def asked_window(query: Iterable[tuple[str, str]], zone: ZoneInfo) -> tuple[int, int] | None:
    """[start, end), microseconds UTC; None where none of NAMES is given. UnusableError, with one sentence, where the
    query can't be used.
    """
    given = asked(query, NAMES)
    if not given:
        return None
    begin, end, week, month = (given.get(name) for name in NAMES)
    found = named_window(zone, begin, end, week, month, AS_QUERY)
    if found[1] - found[0] > MOST_DAYS * DAY:
        raise UnusableError(
            f"That is more than {MOST_DAYS:,} days: ask for fewer, or use the command of the same name."
        )
    return found
