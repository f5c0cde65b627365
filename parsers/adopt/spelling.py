"""This host's words into ours: what each spelling of a mode, side, slot, cause or reason stands for, and which of it is a guess."""

import re
import statistics
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from shared.events import MODES
from shared.units import duration_seconds

from parsers.adopt import trade
from parsers.adopt.model import TALK, Column, Known, Shape

ASKED = 3  #: a way to end that so many lines have is asked for where its words are not known
TIMED_OUT = r"\b(?:time[ -]?d?[ -]?out|timeout)\b"
#: `pct lost` and the like: what the number before is a share of, and no cause
UNIT_PHRASE = (
    r"^\s*(?:%|(?:pct|percent|per cent)\b)\s*(?:(?:of|bits?|frames?|packets?)\s+)*(?:lost|loss|missing|missed|dropped|ber|err\w*|wrong)?"
)
#: elimination goes through the modes in this order: the commonest first (a guess; common practice, no source)
LIKELY = ("dmr", "dstar", "c4fm", "fm", "nxdn", "p25", "m17")


@dataclass
class Words:
    """Tables of words, and how many lines hang on each that was guessed."""

    tables: dict[str, dict[str, dict[str, Any]]] = field(default_factory=lambda: defaultdict(dict))
    guessed: dict[tuple[str, str], int] = field(default_factory=dict)  #: (table, spelling) -> lines of overs


def settle_words(shapes: Sequence[Shape], known: Known) -> Words:
    """The meaning of every spelling in the columns that hold words. Takes a column's key away where its values are no such words after all."""
    words = Words()
    events = [shape for shape in shapes if shape.event != "ignore"]
    _causes(events)
    _like_siblings(events)
    columns: dict[str, list[tuple[Shape, Column]]] = defaultdict(list)
    for shape in events:
        for column in shape.columns:
            if column.key in ("mode", "side", "slot", "cause", "reason"):
                columns[column.key].append((shape, column))
    for table, found in columns.items():
        counts: Counter[str] = Counter()
        for shape, column in found:
            for value, count in column.counts.items():
                counts[value] += count if shape.event in TALK else 0
        for value in counts:
            if value in known.words.get(table, {}):
                means = known.words[table][value]
                words.tables[table][value] = means if isinstance(means, dict) else {table: means} if means else {}
            elif value and (means := _plain(table, value)) is not None:
                words.tables[table][value] = means
        left = Counter({value: count for value, count in counts.items() if value and value not in words.tables[table]})
        if table == "mode":
            _guess_modes(words, left, found)
        elif table == "side":
            _guess_sides(words, left, found)
        else:
            words.tables[table] |= {value: {} for value in left}
    told = known.words.get("cause", {})
    for value, means in words.tables["cause"].items() if "cause" in words.tables else ():
        lines = sum(column.counts[value] for shape, column in columns["cause"] if shape.event in TALK)
        if not means and value not in told and not trade.nobody(value) and lines >= ASKED and not _damaged(value, columns["cause"]):
            words.guessed["cause", value] = lines
    return words


def _damaged(value: str, found: Sequence[tuple[Shape, Column]]) -> bool:
    """Whether a value is the beginning of a longer one, as in lines that were cut."""
    return any(other != value and other.startswith(value) for _, column in found for other in column.counts)


def _plain(table: str, value: str) -> dict[str, Any] | None:
    """What a spelling that is known means."""
    if table == "mode":
        return trade.mode_of(value) or ({} if trade.nobody(value) else None)
    if table == "slot":
        slot = trade.slot_of(value)
        return {"slot": slot} if slot else {}
    if table == "side":
        side = trade.side_of(value)
        return {"side": side} if side else {} if trade.nobody(value) else None
    meaning = trade.cause_of(value) if table == "cause" else trade.reason_of(value)
    return {table: meaning} if meaning else {}


def _causes(shapes: Sequence[Shape]) -> None:
    """Finds the columns that tell why an over ended or a caller was refused: few values, most of which name a cause."""
    spelt = {value.lower() for shape in shapes for column in shape.columns if column.key == "mode" for value in column.counts if value}
    for shape in shapes:
        key, of = ("reason", trade.reason_of) if shape.event == "refused" else ("cause", trade.cause_of)
        if shape.event not in ("over-end", "over", "refused"):
            for column in shape.columns:
                column.key = "_" if column.key in ("cause", "reason") else column.key
            continue
        for column in shape.columns:
            filled = column.filled()
            n = sum(count for _, count in filled)
            wordy = all(not any(char.isdigit() for char in value) for value, _ in filled)
            if column.key in ("_", "target", "side", "network") and n and wordy and len(filled) <= 12:
                told = sum(count for value, count in filled if of(value)) / n
                fits = {of(value) for value, _ in filled}
                if told >= 0.7 and (len(fits) > 1 or key == "reason" or len(filled) > 1) and shape.column(key) is None:
                    if column.key == "side" and all(trade.side_of(value) for value, _ in filled):
                        continue
                    column.key = key
        tail = shape.parts[-1] if shape.parts and isinstance(shape.parts[-1], str) else ""
        tail = re.sub(UNIT_PHRASE, "", tail, flags=re.IGNORECASE)
        ends = [other for other in shapes if other.event in ("over-end", "over") and other is not shape]
        if shape.event != "refused" and shape.column("cause") is None and (cause := _cause_of(tail, shape, ends)) in ("timeout", "lost"):
            shape.set["cause"] = cause
        if shape.event != "refused" and shape.column("cause") is None and "cause" not in shape.set and _times_out(shape, shapes):
            shape.set["cause"] = "timeout"
        if shape.event == "refused" and shape.column("reason") is None:
            reason = "other-mode" if _names_another_mode(shape, spelt) else trade.reason_of(" ".join(shape.words))
            if reason:
                shape.set["reason"] = reason


def _times_out(shape: Shape, shapes: Sequence[Shape]) -> bool:
    """Whether the shape's own words say that such overs ran into the time-out: others' don't, and theirs are not as long."""
    ends = [other for other in shapes if other.event in ("over-end", "over")]
    others = [other for other in ends if not re.search(TIMED_OUT, trade.spaced(" ".join(other.words)))]
    if not others or shape in others:
        return False
    return _longer(shape, others)


def _cause_of(text: str, shape: Shape, others: Sequence[Shape]) -> str | None:
    """The cause that a shape's words tell; a time-out that every end names is none."""
    cause = trade.cause_of(text)
    return None if cause == "timeout" and not _longer(shape, others) else cause


def _longer(shape: Shape, others: Sequence[Shape]) -> bool:
    """Whether a shape's overs are far longer than others, as those that run into a time-out are; yes where that can't be told."""
    mine, theirs = _lengths([shape]), _lengths(others)
    return not mine or not theirs or statistics.median(mine) >= 2 * statistics.median(theirs)


def _lengths(shapes: Sequence[Shape]) -> list[float]:
    """Lengths of overs as the host writes them, in its own unit or in seconds."""
    columns = [column for shape in shapes if (column := shape.column("duration")) is not None]
    return [length for column in columns for value in column.values if (length := duration_seconds(value)) is not None]


def _names_another_mode(shape: Shape, spelt: set[str]) -> bool:
    """Whether each of a refusal's lines names, besides the caller's mode, another one: that is who holds. `spelt` are the log's modes."""
    own = shape.column("mode")
    fixed = {word for word in shape.words if word in spelt}
    if own is None:
        return len(fixed) > 1
    if fixed and not any(mine.lower() in fixed for mine in own.counts):
        return True
    for column in shape.columns:
        both = [(mine.lower(), theirs.lower()) for mine, theirs in zip(own.values, column.values, strict=True) if theirs]
        modes = {theirs for _, theirs in both}
        if (
            column is not own
            and both
            and (modes <= spelt or all(map(trade.mode_of, modes)))
            and all(mine != theirs for mine, theirs in both)
        ):
            return True
    return False


def _like_siblings(shapes: Sequence[Shape]) -> None:
    """Where shapes differ in their last words only, and those of some are a cause, the others' are one too."""
    by_head: dict[tuple[str | int, ...], list[Shape]] = defaultdict(list)
    for shape in shapes:
        if shape.event in ("over-end", "over") and shape.parts and isinstance(shape.parts[-1], str) and shape.column("cause") is None:
            unit = re.match(UNIT_PHRASE, shape.parts[-1], re.IGNORECASE)
            by_head[(*shape.parts[:-1], unit[0] if unit else "")].append(shape)
    for alike in by_head.values():
        if any("cause" in shape.set for shape in alike):
            for shape in alike:
                tail = re.sub(UNIT_PHRASE, "", str(shape.parts[-1]), flags=re.IGNORECASE)
                if "cause" not in shape.set and (cause := _cause_of(tail, shape, [other for other in alike if other is not shape])):
                    shape.set["cause"] = cause


def _guess_modes(words: Words, left: Counter[str], found: Sequence[tuple[Shape, Column]]) -> None:
    """Unknown spellings of modes: by what they hint at, by what only one mode does (slots, no call signs), then by elimination."""
    table = words.tables["mode"]
    hinted = {value: trade.mode_hint(value) for value in left}
    for value, means in hinted.items():
        if means is not None:
            table[value] = means
            words.guessed["mode", value] = left[value]
    rest = [value for value, _ in left.most_common() if value not in table]
    traits = {value: _traits(value, found) for value in rest}
    taken = {means.get("mode") for means in table.values()}
    for value in rest:
        slotted, nameless, ids = traits[value]
        guess = (
            "dmr"
            if slotted > 0.5 or (ids > 0.5 and slotted > 0)
            else "fm"
            if nameless > 0.9 and "fm" not in taken
            else "dmr"
            if ids > 0.3 and "dmr" not in taken
            else None
        )
        if guess is None:
            guess = next((mode for mode in LIKELY if mode not in taken and not (mode == "fm" and nameless < 0.5)), "dmr")
        taken.add(guess)
        table[value] = {"mode": guess}
        stem = value[:-1]
        twins = [other for other in table if other[:-1] == stem and stem and other[-1:] in "12" and table[other].get("mode") == "dmr"]
        if guess == "dmr" and value[-1] in "12" and len(twins) == 2:
            for twin in twins:
                table[twin] = {"mode": "dmr", "slot": int(twin[-1])}
        words.guessed["mode", value] = left[value]


def _traits(value: str, found: Sequence[tuple[Shape, Column]]) -> tuple[float, float, float]:
    """Of the lines with one spelling of a mode: the share with a slot, without a station, with a numeric id."""
    n = slotted = nameless = ids = 0
    for shape, column in found:
        slot, station = shape.column("slot"), shape.column("station")
        for at, one in enumerate(column.values):
            if one != value or shape.event not in TALK:
                continue
            n += 1
            slotted += slot is not None and trade.slot_of(slot.values[at]) is not None
            who = station.values[at] if station else ""
            nameless += trade.nobody(who)
            ids += trade.is_radio_id(who)
    return (slotted / n, nameless / n, ids / n) if n else (0.0, 0.0, 0.0)


def _guess_sides(words: Words, left: Counter[str], found: Sequence[tuple[Shape, Column]]) -> None:
    """Codes of sides: a receiver measures a signal level, a link loses packets; analogue comes by radio; what is heard most is air."""
    table = words.tables["side"]
    evidence: dict[str, float] = {}
    for value in left:
        weight = 0.0
        for shape, column in found:
            if value not in column.counts:
                continue
            level, loss, errors, mode = (shape.column(key) for key in ("rssi_dbm", "loss_pct", "ber_pct", "mode"))
            for at, one in enumerate(column.values):
                if one == value:
                    weight += bool(level and level.values[at]) + 0.5 * bool(errors and errors.values[at]) - bool(loss and loss.values[at])
                    weight += 0.5 * (mode is not None and (trade.mode_of(mode.values[at]) or {}).get("mode") == "fm")
            if level is None and "rssi_dbm" not in {c.key for s, _ in found for c in s.columns}:
                continue
        short = trade.SHORT_SIDES.get(value.lower(), "")
        weight += {"air": 0.2, "link": -0.2}.get(short, 0.0) * left[value]
        evidence[value] = weight / max(1, left[value]) + 0.001 * left[value] / max(1, sum(left.values()))
    order = sorted(evidence, key=lambda value: -evidence[value])
    known = {means.get("side") for means in table.values()}
    for place, value in enumerate(order):
        air = evidence[value] > 0.05 if len(order) > 2 else place == 0
        if len(order) == 1 and len(known - {None}) == 1:
            air = "air" not in known
        table[value] = {"side": "air" if air else "link"}
        gap = abs(evidence[order[0]] - evidence[order[-1]])
        if gap < 0.3:
            words.guessed["side", value] = left[value]


def needed(words: Words) -> dict[str, dict[str, dict[str, Any]]]:
    """The tables without what every dialect understands by itself."""
    out: dict[str, dict[str, dict[str, Any]]] = {}
    for table, meanings in words.tables.items():
        kept = {
            value: means
            for value, means in meanings.items()
            if value
            and not (means == {table: value.lower()} and (table != "mode" or value.lower() in MODES))
            and means != {table: _digit(value)}
        }
        if kept:
            out[table] = kept
    return out


def _digit(value: str) -> int | None:
    return int(value) if value in ("1", "2") else None
