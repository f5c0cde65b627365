"""This host's words into ours: what each spelling of a mode, side, slot, cause or reason stands for, and which of it
is a guess.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from parsers.adopt import trade
from parsers.adopt.model import TALK, Column, Known, Shape
from shared.events import MODES

ASKED = 3  #: a way to end that so many lines have is asked for where its words are not known
TABLES = ("mode", "side", "slot", "cause", "reason")
#: elimination goes through the modes in this order: the commonest first (a guess; common practice, no source)
LIKELY = ("dmr", "dstar", "c4fm", "fm", "nxdn", "p25", "m17")
CLEAR = 0.3  #: evidence for two spellings of sides that lie nearer together is a guess
NAMELESS = (
    "station",
    "target",
    "network",
    "ber_pct",
    "loss_pct",
    "rssi_dbm",
    "duration",
)  #: a host may write that there is none
Place = Sequence[tuple[Shape, Column]]


@dataclass
class Words:
    """Tables of words, and how many lines hang on each that was guessed."""

    tables: dict[str, dict[str, dict[str, Any]]] = field(default_factory=lambda: defaultdict(dict))
    guessed: dict[tuple[str, str], int] = field(default_factory=dict)  #: (table, spelling) -> lines of overs


def settle_words(shapes: Sequence[Shape], known: Known) -> Words:
    """The meaning of every spelling in the columns that hold words."""
    words = Words()
    columns: dict[str, list[tuple[Shape, Column]]] = defaultdict(list)
    for shape in shapes:
        for column in shape.columns:
            if shape.event != "ignore" and column.key in TABLES:
                columns[column.key].append((shape, column))
    for table, found in columns.items():
        counts = _counts(found)
        told = known.words.get(table, {})
        for value in counts:
            if value in told:
                words.tables[table][value] = _as_said(table, told[value])
            elif (means := PLAIN[table](value)) is not None:
                words.tables[table][value] = means
        left = Counter({value: count for value, count in counts.items() if value not in words.tables[table]})
        GUESSES[table](words, left, found)
    for shape in shapes:
        for column in shape.columns:
            if column.key in NAMELESS and shape.event != "ignore":
                key = "seconds" if column.key == "duration" else column.key
                words.tables[key] |= {value: {} for value in column.counts if value and trade.nobody(value)}
    return words


def _counts(found: Place) -> Counter[str]:
    """Lines of overs by spelling; those of other events count nothing, but are there."""
    counts: Counter[str] = Counter()
    for shape, column in found:
        for value, count in column.counts.items():
            if value:
                counts[value] += count if shape.event in TALK else 0
    return counts


def _as_said(table: str, means: Any) -> dict[str, Any]:
    return means if isinstance(means, dict) else {table: means} if means else {}


def _plain_mode(value: str) -> dict[str, Any] | None:
    return trade.mode_of(value) or ({} if trade.nobody(value) else None)


def _plain_slot(value: str) -> dict[str, Any] | None:
    slot = trade.slot_of(value)
    return {"slot": slot} if slot else {} if trade.nobody(value) or value == "0" else None


def _plain_side(value: str) -> dict[str, Any] | None:
    side = trade.side_of(value)
    return {"side": side} if side else {} if trade.nobody(value) else None


def _plain_cause(value: str) -> dict[str, Any] | None:
    cause = trade.cause_of(value)
    return {"cause": cause} if cause else {} if trade.nobody(value) else None


def _plain_reason(value: str) -> dict[str, Any] | None:
    reason = trade.reason_of(value)
    return {"reason": reason} if reason else {} if trade.nobody(value) else None


PLAIN: Mapping[str, Callable[[str], dict[str, Any] | None]] = {
    "mode": _plain_mode, "slot": _plain_slot, "side": _plain_side, "cause": _plain_cause, "reason": _plain_reason,
}  # fmt: skip


def _guess_modes(words: Words, left: Counter[str], found: Place) -> None:
    """Unknown spellings of modes: by what they hint at, by what only one mode does (slots, no call signs), then by
    elimination.
    """
    table = words.tables["mode"]
    rest = []
    for value, count in left.most_common():
        hint = trade.mode_hint(value)
        if hint is not None:
            table[value] = hint
            words.guessed["mode", value] = count
        else:
            rest.append(value)
    for value in rest:
        taken = {means.get("mode") for means in table.values()}
        table[value] = {"mode": _likeliest(_traits(value, found), taken)}
        words.guessed["mode", value] = left[value]
    for value in rest:
        _slotted(table, value)


def _likeliest(traits: tuple[float, float, float], taken: set[Any]) -> str:
    slotted, nameless, ids = traits
    if slotted > 0.5 or (ids > 0.5 and slotted > 0):
        return "dmr"
    if nameless > 0.9 and "fm" not in taken:
        return "fm"
    if ids > 0.3 and "dmr" not in taken:
        return "dmr"
    return next((mode for mode in LIKELY if mode not in taken and not (mode == "fm" and nameless < 0.5)), "dmr")


def _slotted(table: dict[str, dict[str, Any]], value: str) -> None:
    """Two spellings that differ in a 1 and a 2 alone are one mode's two slots."""
    twin = re.fullmatch(r"(.*?)([12])(\W?)", value)
    if twin is None or not twin[1]:
        return
    other = f"{twin[1]}{3 - int(twin[2])}{twin[3]}"
    if other in table and {*table[value], *table[other]} <= {"mode"}:
        table[value] = {"mode": "dmr", "slot": int(twin[2])}
        table[other] = {"mode": "dmr", "slot": 3 - int(twin[2])}


def _traits(value: str, found: Place) -> tuple[float, float, float]:
    """Of the lines with one spelling of a mode: the share with a slot, without a station, with a numeric id."""
    lines = slotted = nameless = ids = 0
    for shape, column in found:
        slot, station = shape.column("slot"), shape.column("station")
        rows = [at for at, one in enumerate(column.values) if one == value] if shape.event in TALK else []
        lines += len(rows)
        slotted += sum(not trade.nobody(slot.values[at]) and slot.values[at] != "0" for at in rows) if slot else 0
        who = [station.values[at] if station else "" for at in rows]
        nameless += sum(map(trade.nobody, who))
        ids += sum(map(trade.is_radio_id, who))
    return (slotted / lines, nameless / lines, ids / lines) if lines else (0.0, 0.0, 0.0)


def _guess_sides(words: Words, left: Counter[str], found: Place) -> None:
    """Codes of sides: a receiver measures a signal level, a link loses packets; analogue comes by radio; what is heard
    most is air.
    """
    if not left:
        return
    table = words.tables["side"]
    told = {means.get("side") for means in table.values()} - {None}
    every = sum(left.values())
    evidence = {
        value: _airy(value, found) / max(1, left[value]) + 0.001 * left[value] / max(1, every) for value in left
    }
    order = sorted(evidence, key=lambda value: -evidence[value])
    for place, value in enumerate(order):
        air = evidence[value] > 0.05 if len(order) > 2 else place == 0
        if len(order) == 1 and len(told) == 1:
            air = "air" not in told
        table[value] = {"side": "air" if air else "link"}
        if evidence[order[0]] - evidence[order[-1]] < CLEAR:
            words.guessed["side", value] = left[value]


def _airy(value: str, found: Place) -> float:
    """How much speaks for a spelling's being the air, over its lines."""
    weight = 0.2 * {"air": 1.0, "link": -1.0}.get(trade.SHORT_SIDES.get(value.lower(), ""), 0.0) * _counts(found)[value]
    for shape, column in found:
        rows = [at for at, one in enumerate(column.values) if one == value] if shape.event in TALK else []
        for key, worth in (("rssi_dbm", 1.0), ("ber_pct", 0.5), ("loss_pct", -1.0)):
            other = shape.column(key)
            weight += worth * sum(not trade.nobody(other.values[at]) for at in rows) if other else 0.0
        mode = shape.column("mode")
        weight += 0.5 * sum((trade.mode_of(mode.values[at]) or {}).get("mode") == "fm" for at in rows) if mode else 0.0
    return weight


def _guess_slots(words: Words, left: Counter[str], found: Place) -> None:
    """Spellings of slots that are not known: the first in the order of the alphabet is slot 1."""
    both_known = {1, 2} <= {means.get("slot") for means in words.tables["slot"].values()}
    for place, value in enumerate(sorted(left)):
        words.tables["slot"][value] = {"slot": place + 1} if len(left) == 2 else {}
        if not (both_known and len(left) == 1):  # what stands beside both is for modes that have none
            words.guessed["slot", value] = left[value]


def _guess_causes(words: Words, left: Counter[str], found: Place) -> None:
    """Ways to end that no word tells mean nothing until somebody says what."""
    for value, lines in left.items():
        words.tables["cause"][value] = {}
        if lines >= ASKED and not _damaged(value, found):
            words.guessed["cause", value] = lines


def _guess_reasons(words: Words, left: Counter[str], found: Place) -> None:
    for value in left:
        hint = trade.reason_hint(value)
        words.tables["reason"][value] = {"reason": hint} if hint else {}
        lines = sum(column.counts[value] for _, column in found)
        if lines >= ASKED and not _damaged(value, found):
            words.guessed["reason", value] = lines


GUESSES: Mapping[str, Callable[[Words, Counter[str], Place], None]] = {
    "mode": _guess_modes, "side": _guess_sides, "slot": _guess_slots, "cause": _guess_causes, "reason": _guess_reasons,
}  # fmt: skip


def _damaged(value: str, found: Place) -> bool:
    """Whether a value is the beginning of a longer one, as in lines that were cut."""
    return any(other != value and other.startswith(value) for _, column in found for other in column.counts)


def needed(words: Words) -> dict[str, dict[str, dict[str, Any]]]:
    """The tables without what every dialect understands by itself."""
    out = {}
    for table, meanings in words.tables.items():
        kept = {value: means for value, means in meanings.items() if value and not _by_itself(table, value, means)}
        if kept:
            out[table] = kept
    return out


def _by_itself(table: str, value: str, means: Mapping[str, Any]) -> bool:
    same = means == {table: value.lower()} and (table != "mode" or value.lower() in MODES)
    return same or (table == "slot" and value in ("1", "2") and means == {"slot": int(value)})
