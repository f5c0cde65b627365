"""The keys of an activity line and what values they may have: one place for lines, dialects and samples."""

from typing import Any

from shared.events import CAUSES, COUNT_KEYS, MODES, REASONS, SIDES, TEXT_KEYS, TEXT_LIMIT
from shared.zones import DAY, SECOND

IGNORE = "ignore"  #: the `event` of lines that are understood and of no interest
WORD_KEYS: dict[str, tuple[str, ...]] = {"mode": MODES, "side": SIDES, "cause": CAUSES, "reason": REASONS}
NUMBER_KEYS = ("seconds", "ber_pct", "loss_pct", "rssi_dbm", *COUNT_KEYS)
KEYS = (*WORD_KEYS, "slot", *TEXT_KEYS, *NUMBER_KEYS)
LONGEST_S = 7 * DAY / SECOND  #: no over lasts longer than a week
LOWEST_US, HIGHEST_US = -2_208_988_800 * SECOND, 7_258_118_400 * SECOND  #: 1900 and 2200: stamps outside are garbage
MOST_COUNTED = 1_000_000  #: bits a second, code words or characters of one page
LONGEST_LINE = 64 * 1024  #: bytes; longer lines are not matched
BLANKS = " \t\r\n"  #: a line of these alone is blank


def wrong_value(key: str, value: Any) -> str | None:
    """What is wrong with one value of an activity line; None where it is right."""
    if key in WORD_KEYS:
        return None if value in WORD_KEYS[key] else f"{key} can't be {value!r}; expected {', '.join(WORD_KEYS[key])}"
    if key in TEXT_KEYS:
        return None if _is_text(value) else f"{key} must be text of at most {TEXT_LIMIT} characters"
    return _wrong_number(key, value)


def _wrong_number(key: str, value: Any) -> str | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return f"{key} must be a number, not {value!r}"
    if key == "slot":
        return None if value in (1, 2) else f"slot must be 1 or 2, not {value!r}"
    if key in COUNT_KEYS and value % 1 != 0:
        return f"{key} must be a whole number, not {value!r}"
    low, high = limits(key)
    # Compared as it stands: an integer too large for a float is refused here and not by an OverflowError.
    return None if low <= value <= high else f"{key} must lie between {low:g} and {high:g}"


def limits(key: str) -> tuple[float, float]:
    """The least and the greatest value of a number key; neither nan nor infinity lies between."""
    if key == "seconds":
        return 0.0, LONGEST_S
    if key == "rssi_dbm":
        return -1e6, 1e6
    if key in COUNT_KEYS:
        return float(key == "bit_rate"), float(MOST_COUNTED)
    return 0.0, 100.0


def _is_text(value: Any) -> bool:
    """False also for a NUL and for lone surrogates, which no database stores."""
    if not isinstance(value, str) or len(value) > TEXT_LIMIT or "\0" in value:
        return False
    try:
        value.encode()
    except UnicodeEncodeError:
        return False
    return True
