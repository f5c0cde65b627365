"""What words around a column say that it is, and what a shape's fixed words say of its mode, slot and side."""

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from parsers.adopt import trade, vocabulary
from parsers.adopt.model import Column, Shape

WEAK = {
    "id",
    "name",
    "unit",
    "on",
    "at",
    "into",
    "channel",
    "e",
    "l",
    "t",
    "m",
    "f",
    "x",
    "d",
    "in",
    "with",
    "by",
    "for",
    "s",
    "q",
    "from",
    "to",
    "tx",
    "source",
    "link",
    "talk",
    "air",
}
PERCENT = r"^\s{0,2}(?:%|(?:pct|percent|per cent)\b)"
LOST = r"lost|loss|missing|missed|dropped"
WRONG = r"ber|errs?|errors?|bit errors?|wrong"
NAMES = {
    "mode": set(vocabulary.MODE_NAMES), "side": set(vocabulary.SIDE_NAMES), "slot": set(vocabulary.SLOT_NAMES),
    "station": set(vocabulary.STATION_NAMES),
    "target": set(vocabulary.TARGET_NAMES), "duration": set(vocabulary.DURATION_NAMES),
    "ber_pct": set(vocabulary.BER_NAMES),
    "loss_pct": set(vocabulary.LOSS_NAMES), "rssi_dbm": set(vocabulary.RSSI_NAMES),
    "network": set(vocabulary.NETWORK_NAMES),
    "cause": {"cause", "end", "ending", "because", "why", "reason", "how", "result",
              "status", "by", "outcome", "term", "stop", "close"},
    "reason": {"reason", "why", "because", "cause", "code", "denied", "refused", "for"},
}  # fmt: skip


def number(text: str) -> float | None:
    """A number with its unit or without; decimal point or comma."""
    found = re.fullmatch(r"\s*([-+]?[0-9]+(?:[.,][0-9]+)?)\s*(?:%|dBm|dB|dbm|DBM)?\s*", text)
    return float(found[1].replace(",", ".")) if found else None


def percent_of(column: Column) -> str | None:
    """What a number followed by a percent unit and a word is a share of: ber_pct, loss_pct, or "" where no word says;
    None where no such unit
    follows."""
    unit = re.match(PERCENT, column.right, re.IGNORECASE)
    if unit is None:
        return None
    after = column.right[unit.end() :].lower()
    for key, words in (("loss_pct", LOST), ("ber_pct", WRONG)):
        if re.match(rf"\W{{0,2}}(?:of |bits? |frames? |packets? |is |are )*(?:{words})\b(?!\s*[=:])", after):
            return key
    return ""


def named(key: str, column: Column) -> float:
    """How strongly the words around a column say that it is `key`, 0 to 1.5."""
    best = 0.0
    for back, word in enumerate(reversed(column.left)):
        weight = 1.5 if column.name is not None else (1.5, 0.6, 0.3)[min(back, 2)]
        if word in NAMES[key]:
            best = max(best, weight * (0.5 if word in WEAK else 1.0))
    return best


def told_unit(column: Column) -> str | None:
    """The unit of time that the words around a column name."""
    right = re.match(r"^\W{0,2}([A-Za-z]+)", column.right)
    before = column.left if column.name is not None else column.left[-2:]
    for word in [right[1].lower()] if right else []:
        if word in ("s", "sec", "secs", "second", "seconds"):
            return "s"
    for word in ([right[1].lower()] if right else []) + list(reversed(before)):
        if word in ("sec", "secs", "second", "seconds") or (word == "s" and column.name is not None):
            return "s"
        found = next((unit for unit, words in UNITS if re.fullmatch(words, word)), None)
        if found:
            return found
    return None


UNITS = (
    ("ms", r"ms|millis|msecs?|milliseconds?|milli"),
    ("frames", r"frames?|fr|frms?|bursts?"),
    ("frames:60000ms", r"mins?|minutes?"),
)


def fixed_words(shape: Shape) -> list[str]:
    """The words between a shape's holes; of a table those that make its rows."""
    texts = [part for part in shape.parts if isinstance(part, str)] + list(shape.when.values())
    return [word for text in texts for word in re.split(r"[\s,;:=|()\[\]{}<>\"]+", text) if word]


def mode_behind_prefix(words: Sequence[str], spellings: Sequence[str]) -> dict[str, Any]:
    """The mode that a fixed word names behind what all spellings of modes in the log begin with."""
    same = [len(set(letters)) == 1 for letters in zip(*spellings, strict=False)] if len(spellings) > 1 else []
    prefix = spellings[0][: [*same, False].index(False)] if spellings else ""
    rests = [word.removeprefix(prefix) for word in words if prefix and word.startswith(prefix)]
    return next(({"mode": found["mode"]} for rest in rests if (found := trade.mode_of(rest)) is not None), {})


def fixed_meanings(shape: Shape) -> None:
    """What the shape's fixed words say of mode, slot and side."""
    words = fixed_words(shape)
    phrases = [*(f"{a} {b}" for a, b in pairwise(words)), *words]
    if shape.column("mode") is None:
        shape.set |= _mode_said(phrases, slotted=shape.column("slot") is not None)
    if shape.column("slot") is None and "slot" not in shape.set and shape.set.get("mode") in (None, "dmr"):
        slot = next((slot for word in phrases if not word.isdigit() and (slot := trade.slot_of(word))), None)
        shape.set |= {"slot": slot} if slot else {}
    if shape.column("side") is None:
        side = _side_said(words) or ("air" if _modes(shape) == {"fm"} and _lifts_squelch(words) else None)
        shape.set |= {"side": side} if side else {}


def _mode_said(phrases: Sequence[str], *, slotted: bool) -> dict[str, Any]:
    found = next((found for phrase in phrases if (found := trade.mode_of(phrase)) is not None), {})
    return {key: value for key, value in found.items() if key == "mode" or not slotted}


def _side_said(words: Sequence[str]) -> str | None:
    return next((side for word in words if (side := trade.side_of(word)) and trade.mode_of(word) is None), None)


def _modes(shape: Shape) -> set[Any]:
    mode = shape.column("mode")
    return {(trade.mode_of(value) or {}).get("mode") for value in mode.counts} if mode else {shape.set.get("mode")}


def _lifts_squelch(words: Sequence[str]) -> bool:
    """What lifts a squelch is a carrier that is received: an analogue over that it tells of came by radio."""
    return any(re.fullmatch(r"(?i)squelch|sql|carrier", word) for word in words)
