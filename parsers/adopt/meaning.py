"""What the columns of a shape mean, by their values, by the words around them, and by what the same words meant in other shapes."""

import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from itertools import pairwise

from shared.units import duration_seconds

from parsers.adopt import trade
from parsers.adopt.model import TALK, Column, Known, Shape

MODES_AT_MOST, LONGEST_MODE = 8, 12  #: a repeater has so many modes, and such words for them
LEAST = 0.9  #: a column gets a meaning that scores so much
WEAK = {"id", "name", "unit", "on", "at", "into", "channel", "e", "l", "t", "m", "f", "x", "d", "in", "with", "by", "for", "s", "q", "from", "to", "tx", "source", "link", "talk", "air"}  # fmt: skip
TIME = r"^\W{0,2}(?:s|secs?|seconds?|ms|millis\w*|milliseconds?|msec|mins?|minutes?)\b"
PERCENT = r"^\s{0,2}(?:%|(?:pct|percent|per cent)\b)"
LEVEL = r"^\s{0,2}dB"
LOST = r"lost|loss|missing|missed|dropped"
WRONG = r"ber|errs?|errors?|bit errors?|wrong"
UNITS = r"^\W{0,2}(?:s|secs?|seconds?|ms|millis\w*|milliseconds?|msec|frames?|fr|mins?|minutes?)\b"
NAMES = {
    "mode": set(trade.MODE_NAMES), "side": set(trade.SIDE_NAMES), "slot": set(trade.SLOT_NAMES), "station": set(trade.STATION_NAMES),
    "target": set(trade.TARGET_NAMES), "duration": set(trade.DURATION_NAMES), "ber_pct": set(trade.BER_NAMES),
    "loss_pct": set(trade.LOSS_NAMES), "rssi_dbm": set(trade.RSSI_NAMES), "network": set(trade.NETWORK_NAMES),
    "cause": {"cause", "end", "ending", "because", "why", "reason", "how", "result", "status", "by", "outcome", "term", "stop", "close"},
    "reason": {"reason", "why", "because", "cause", "code", "denied", "refused", "for"},
}  # fmt: skip


def number(text: str) -> float | None:
    """A number with its unit or without; decimal point or comma."""
    found = re.fullmatch(r"\s*([-+]?[0-9]+(?:[.,][0-9]+)?)\s*(?:%|dBm|dB|dbm|DBM)?\s*", text)
    return float(found[1].replace(",", ".")) if found else None


def percent_of(column: Column) -> str | None:
    """What a number followed by a percent unit and a word is a share of: ber_pct, loss_pct, or "" where no word says; None where no such unit
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
    words = column.left
    best = 0.0
    for back, word in enumerate(reversed(words)):
        weight = 1.5 if column.name is not None else (1.5, 0.6, 0.3)[min(back, 2)]
        if word in NAMES[key]:
            best = max(best, weight * (0.5 if word in WEAK else 1.0))
    return best


def scores(column: Column) -> dict[str, float]:
    """How likely each key is, by values and words."""
    filled = column.filled()
    n = sum(count for _, count in filled)
    if not n:
        return {}

    def share(test) -> float:  # type: ignore[no-untyped-def]
        return sum(count for value, count in filled if test(value)) / n

    out: dict[str, float] = {}
    distinct = len(filled)
    numbers = [(number(value), count) for value, count in filled]
    numeric = sum(count for value, count in numbers if value is not None) / n
    modes = share(lambda value: trade.mode_of(value) is not None)
    if modes >= 0.6:
        out["mode"] = 3 * modes + named("mode", column) / 2
    elif (
        distinct <= 20
        and numeric < 1
        and modes + share(lambda value: trade.mode_hint(value) is not None) >= 0.5
        and (named("mode", column) or modes)
    ):
        out["mode"] = 1 + named("mode", column)
    elif 2 <= distinct <= 20 and named("mode", column) >= 1.5:
        out["mode"] = 0.8 + 0.3 * named("mode", column)
    slots = share(
        lambda value: trade.slot_of(value) is not None or trade.nobody(value) or value == "0" or not any(char.isdigit() for char in value)
    )
    if slots >= 0.85 and share(lambda value: trade.slot_of(value) is not None) >= 0.1 and distinct <= 5:
        bare = all(value.isdigit() or trade.slot_of(value) is None for value, _ in filled)
        before = trade.mode_of(column.left[-1]) if column.left else None
        out["slot"] = (0.5 if bare else 2.0) + 1.5 * named("slot", column) + 1.5 * (before == {"mode": "dmr"})
    sides = share(lambda value: trade.side_of(value) is not None)
    if sides >= 0.9 and distinct <= 8:
        both = len({trade.side_of(value) for value, _ in filled}) == 2
        out["side"] = 1.0 + both + named("side", column)
    elif distinct in (1, 2, 3) and named("side", column) >= 0.75 and numeric < 1 and not modes and not share(trade.is_callsign):
        out["side"] = 0.3 + named("side", column)
    elif 1 <= distinct <= 2 and all(
        value in ("<", ">", "<-", "->", "<<", ">>", "IN", "OUT", "in", "out", "A", "N", "R", "L", "W", "G", "I") for value, _ in filled
    ):
        out["side"] = 1.2
    calls = share(trade.is_callsign)
    ids = share(lambda value: trade.is_radio_id(value) and len(value) >= 6)
    none = share(trade.nobody)
    many = distinct > 2 or n < 20 or named("station", column) >= 0.75
    if calls + ids + none >= 0.6 and calls + ids > 0 and many:
        pointed = 0.0 if not column.left else 0.7 if column.left[-1] in trade.TARGETLY else 0.3 if column.left[-1] in trade.ARROWS else 0.0
        out["station"] = (2 * calls + 1.4 * ids) / (calls + ids) + named("station", column) - pointed
    elif named("station", column) >= 1.5 and numeric < 0.9 and distinct > 3:
        out["station"] = 0.6 + named("station", column) / 2
    decimals = share(lambda value: bool(re.search(r"[.,:%]", value)))
    if decimals < 0.2 and calls < 0.9 and share(lambda value: value.startswith("-")) < 0.5:
        arrow = 1.0 if column.left and column.left[-1] in trade.ARROWS else 0.0
        out["target"] = 0.3 + named("target", column) + arrow + 0.4 * share(lambda value: trade.is_radio_id(value) and len(value) <= 6)
    lengths = share(lambda value: duration_seconds(value) is not None)
    share_of = percent_of(column)
    if lengths >= 0.9 and share_of is None and not re.match(LEVEL, column.right):
        spelt = share(lambda value: not re.fullmatch(r"[0-9]+(?:[.,][0-9]+)?", value))
        unit = 1.8 if re.match(TIME, column.right, re.IGNORECASE) else 1.2 if re.match(UNITS, column.right, re.IGNORECASE) else 0.0
        out["duration"] = 0.2 + 1.3 * spelt + unit + named("duration", column)
        out["duration"] -= 2 * max(named("slot", column), named("ber_pct", column) * (spelt < 0.5)) > 2
    if numeric >= 0.9:
        values = [value for value, _ in numbers if value is not None]
        low, high = min(values), max(values)
        percent = share_of is not None or share(lambda value: "%" in value) > 0.5
        if low >= 0 and high <= 100:
            if (words := named("ber_pct", column)) > 0:
                out["ber_pct"] = 0.7 + words + 0.5 * percent
            if (words := named("loss_pct", column)) > 0:
                out["loss_pct"] = 0.8 + words + 0.5 * percent
            if share_of:
                out[share_of] = 2.6
                out.pop("ber_pct" if share_of == "loss_pct" else "loss_pct", None)
        dbm = share(lambda value: "dbm" in value.lower()) > 0.5 or column.right.lower().lstrip().startswith("dbm")
        if low >= -160 and high <= -20:
            out["rssi_dbm"] = 1.2 + named("rssi_dbm", column) + dbm
        elif dbm:
            out["rssi_dbm"] = 1.5
    return out


def give_meanings(shapes: Sequence[Shape], known: Known) -> None:
    """Gives columns their keys, each key once a shape; what the keeper said comes first."""
    votes: dict[tuple[str, ...], Counter[str]] = defaultdict(Counter)
    spellings: dict[str, set[str]] = defaultdict(set)
    tables = [[scores(column) for column in shape.columns] for shape in shapes]
    for shape, table in zip(shapes, tables, strict=True):
        _assign(shape, table)
        for column in shape.columns:
            if column.key != "_":
                votes[_place(column)][column.key] += len(shape.rows)
                if column.key in ("mode", "side"):
                    spellings[column.key] |= set(column.counts)
    for shape, table in zip(shapes, tables, strict=True):
        for column, score in zip(shape.columns, table, strict=True):
            filled = column.filled()
            for key, words in spellings.items():
                if filled and len(filled) <= 20 and sum(value in words for value, _ in filled) >= 0.5 * len(filled):
                    score[key] = score.get(key, 0.0) + 1.0
            found = votes.get(_place(column))
            if found and column.left and (key := found.most_common(1)[0][0]) in (*score, "station", "target", "mode", "side"):
                boost = 1.2 if found[key] - len(shape.rows) * (column.key == key) >= len(shape.rows) else 0.3
                score[key] = score.get(key, 0.0 if score or not column.filled() else -0.5) + boost
        _assign(shape, table)
        _slot_by_mode(shape)
        for place, key in known.holes.get(shape.name, {}).items():
            if place.isdigit() and 1 <= int(place) <= len(shape.columns):
                for other in shape.columns:
                    other.key = "_" if other.key == key else other.key
                shape.columns[int(place) - 1].key = key
                shape.columns[int(place) - 1].sure = True


def modes_by_place(shapes: Sequence[Shape]) -> None:
    """Where no over's mode is told by a name that is known: a column of few words that stands in all shapes of overs, with the same words in
    each, is taken for the mode. What the words stand for is asked."""
    talk = [shape for shape in shapes if shape.event in TALK]
    if len(talk) < 2 or any(shape.column("mode") is not None or "mode" in shape.set for shape in talk):
        return
    found = [[column for column in shape.columns if column.key == "_" and _wordy(column)] for shape in talk]
    for column in found[0]:
        alike = [next((other for other in columns if set(other.counts) & set(column.counts)), None) for columns in found]
        said = set().union(*(set(other.counts) for other in alike if other is not None))
        if 2 <= len(said) <= MODES_AT_MOST and None not in alike:
            for other in alike:
                if other is not None:
                    other.key, other.sure = "mode", False
            for shape in shapes:
                if shape.event == "refused" and shape.column("mode") is None:
                    mine = next((other for other in shape.columns if other.key == "_" and set(other.counts) <= said), None)
                    if mine is not None:
                        mine.key, mine.sure = "mode", False
            return


def _wordy(column: Column) -> bool:
    """Whether a column holds a few short words, and no numbers, call signs or levels."""
    filled = column.filled()
    return 1 <= len(filled) <= MODES_AT_MOST and all(
        len(value) <= LONGEST_MODE and value[:1].isalpha() and not trade.is_callsign(value) and number(value) is None for value, _ in filled
    )


def _slot_by_mode(shape: Shape) -> None:
    """A column of 0, 1 and 2, or of nothing, 1 and 2, is the slot where only DMR has it."""
    mode = shape.column("mode")
    if mode is None or shape.column("slot") is not None:
        return
    told = {value: (trade.mode_of(value) or {}).get("mode") for value in mode.counts}
    for column in shape.columns:
        if (
            column.key in ("_", "target")
            and {"1", "2"} & set(column.counts)
            and all(value in ("", "0", "1", "2", "-") for value in column.counts)
        ):
            agree = sum((told[one] == "dmr") == (value in ("1", "2")) for one, value in zip(mode.values, column.values, strict=True))
            if agree >= 0.98 * len(shape.rows):
                column.key, column.sure = "slot", True
                return


def _place(column: Column) -> tuple[str, ...]:
    return (column.name,) if column.name is not None else column.left[-2:]


def _assign(shape: Shape, table: Sequence[dict[str, float]]) -> None:
    ranked = sorted(((score, -i, key) for i, column in enumerate(table) for key, score in column.items()), reverse=True)
    taken: set[str] = set()
    for column in shape.columns:
        column.key = "_"
    for score, place, key in ranked:
        column = shape.columns[-place]
        if score >= LEAST and key not in taken and column.key == "_":
            column.key, column.sure = key, score >= 1.4
            taken.add(key)


def fixed_meanings(shape: Shape) -> None:
    """What the shape's fixed words say of mode, slot and side (of text: the words between its holes; of a table: what makes its rows)."""
    texts = [part for part in shape.parts if isinstance(part, str)] + list(shape.when.values())
    words = [word for text in texts for word in re.split(r"[\s,;:=|()\[\]{}<>\"]+", text) if word]
    pairs = [f"{a} {b}" for a, b in pairwise(words)]
    if shape.column("mode") is None:
        for word in [*pairs, *words]:
            if (found := trade.mode_of(word)) is not None:
                shape.set |= found if shape.column("slot") is None else {"mode": found["mode"]}
                break
    if shape.column("slot") is None and "slot" not in shape.set and shape.set.get("mode") in (None, "dmr"):
        for word in [*pairs, *words]:
            found_slot = trade.slot_of(word) if not word.isdigit() else None
            if found_slot is not None:
                shape.set["slot"] = found_slot
                break
    if shape.column("side") is None:
        said = [side for word in words if (side := trade.side_of(word)) is not None and trade.mode_of(word) is None]
        if said:
            shape.set["side"] = said[0]
