"""Durations as hosts write them."""

import re
from collections.abc import Sequence

_PART = r"([0-9]{1,9}(?:[.,][0-9]{1,9})?)"
_PLAIN = re.compile(_PART + "( ?(?:ms|s|secs?|seconds?))?")
_SPELT_OUT = re.compile(r"(?:([0-9]{1,6})h)? ?(?:([0-9]{1,6})m)? ?(?:" + _PART + "s)?")
_CLOCK = re.compile(r"(?:([0-9]{1,6}):)?([0-9]{1,6}):([0-9]{1,2}(?:[.,][0-9]{1,9})?)")


def duration_seconds(text: str) -> float | None:
    """Seconds of `12.4`, `12.4s`, `12.4 seconds`, `340ms`, `1m02s`, `1h02m03s`, `02:05` or `01:02:05`, a decimal comma
    allowed; None for anything else. Below the largest unit named, minutes and seconds are less than 60.
    """
    text = text.strip()
    if plain := _PLAIN.fullmatch(text):
        return _number(plain[1]) / (1000 if (plain[2] or "").strip() == "ms" else 1)
    parts = _SPELT_OUT.fullmatch(text) or _CLOCK.fullmatch(text)
    return _added_up(parts.groups()) if parts else None


def _added_up(parts: Sequence[str | None]) -> float | None:
    """Seconds of hours, minutes and seconds; None where none is given, or one has more than its share."""
    named = [(unit_s, _number(part)) for unit_s, part in zip((3600, 60, 1), parts, strict=True) if part]
    if not named or any(count >= 60 for _, count in named[1:]):
        return None
    return sum(unit_s * count for unit_s, count in named)


def _number(text: str) -> float:
    return float(text.replace(",", "."))
