"""Which side an over came from, where no word says so: by codes and arrows, by what was measured, and by what is left over."""

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence

from parsers.adopt import trade
from parsers.adopt.model import Column, Shape

ARROWS = (">>", "<<", "->", "<-", "=>", "<=", ">", "<")
OTHER = {"air": "link", "link": "air"}


def give_sides(shapes: Sequence[Shape]) -> bool:
    """Sets sides of shapes that look like overs and have none. True where that was a guess."""
    voice = [shape for shape in shapes if shape.column("station") or shape.column("duration")]
    lack = [shape for shape in voice if not _has_side(shape)]
    most = sum(len(shape.rows) for shape in voice) or 1
    if sum(len(shape.rows) for shape in lack) < 0.02 * most:
        return False
    by_code = _by_tag(shapes, _code)
    if by_code and _covers(by_code, lack):
        return _settle(by_code)
    by_arrow = _by_tag(lack, _arrow)
    if len(by_arrow) == 2 and _covers(by_arrow, lack):
        return _settle(by_arrow)
    by_word = _by_word(lack)
    if by_word:
        return _settle(by_word)
    if sum(len(shape.rows) for shape in lack) > 0.9 * most and _by_column(lack):
        return True
    return _complement(voice)


def air_by_squelch(shapes: Sequence[Shape]) -> None:
    """What lifts a squelch is a carrier that is received: an analogue over that it tells of came by radio. Ends keep the side of their start."""
    for shape in shapes:
        analogue = shape.set.get("mode") == "fm" and shape.column("mode") is None
        if (
            shape.event in ("over-start", "over")
            and analogue
            and not _has_side(shape)
            and trade.says(r"squelch|sql|carrier", " ".join(shape.words))
        ):
            shape.set["side"] = "air"


def _has_side(shape: Shape) -> bool:
    return shape.column("side") is not None or "side" in shape.set


def _covers(tags: Mapping[str, Sequence[Shape]], lack: Sequence[Shape]) -> bool:
    tagged = {id(shape) for members in tags.values() for shape in members}
    return sum(len(shape.rows) for shape in lack if id(shape) in tagged) >= 0.8 * sum(len(shape.rows) for shape in lack)


def _by_tag(shapes: Sequence[Shape], tag_of) -> dict[str, list[Shape]]:  # type: ignore[no-untyped-def]
    out: dict[str, list[Shape]] = defaultdict(list)
    for shape in shapes:
        if not _has_side(shape) and (tag := tag_of(shape)):
            out[tag].append(shape)
    return out if len(out) == 2 else {}


def _by_word(lack: Sequence[Shape]) -> dict[str, list[Shape]]:
    """Two short words of which each shape has exactly one, and each stands in shapes that tell a length."""
    words = {
        id(shape): {word for part in shape.parts if isinstance(part, str) for word in part.lower().split() if len(word) <= 3}
        for shape in lack
    }
    timed = [shape for shape in lack if shape.column("duration")] or [
        shape for shape in lack if any(len(column.counts) > 0.3 * len(shape.rows) and column.key == "_" for column in shape.columns)
    ]
    candidates = sorted({word for shape in timed for word in words[id(shape)] if word.isalpha()})
    for place, first in enumerate(candidates):
        for second in candidates[place + 1 :]:
            if not (trade.SHORT_SIDES.get(first) or trade.SHORT_SIDES.get(second)):
                continue
            fits = [shape for shape in lack if len(words[id(shape)] & {first, second}) == 1]
            if sum(len(shape.rows) for shape in fits) >= 0.95 * sum(len(shape.rows) for shape in lack):
                return {word: [shape for shape in fits if word in words[id(shape)]] for word in (first, second)}
    return {}


def _code(shape: Shape) -> str | None:
    """The letter of a code such as `R+` or `N-`, whose mark tells what happens."""
    first = next((part.split() for part in shape.parts if isinstance(part, str) and part.split()), [])
    letters = "".join(char for char in first[0] if char.isalpha()).lower() if first else ""
    return letters if 1 <= len(letters) <= 2 and len(first[0]) in (len(letters) + 1, len(letters) + 2) else None


def _arrow(shape: Shape) -> str | None:
    """The arrow that stands before the station, or the first one of all."""
    found = None
    for part in shape.parts:
        if isinstance(part, str):
            found = next((arrow for arrow in ARROWS if re.search(rf"(?<![<>=-]){re.escape(arrow)}(?![<>=-])", part)), found)
        elif part >= 0 and shape.columns[part].key == "station":
            return found
    return found


def _settle(tags: Mapping[str, Sequence[Shape]]) -> bool:
    """Gives the two tags their sides. True where that is a guess."""
    first, second = tags
    told = trade.SHORT_SIDES.get(first) or OTHER.get(trade.SHORT_SIDES.get(second, ""), "")
    weights = {tag: _airy(members) for tag, members in tags.items()}
    if not told:
        told = "air" if weights[first] >= weights[second] else "link"
    for shape in tags[first]:
        shape.set["side"] = told
    for shape in tags[second]:
        shape.set["side"] = OTHER[told]
    return abs(weights[first] - weights[second]) < 0.3


def _airy(shapes: Sequence[Shape]) -> float:
    """How much speaks for overs received by radio: level and errors measured, no loss, analogue; a little, that they are many."""
    weight, n = 0.0, 0
    for shape in shapes:
        keys = {column.key for column in shape.columns}
        rows = len(shape.rows)
        n += rows
        weight += rows * (1.0 * ("rssi_dbm" in keys) + 0.5 * ("ber_pct" in keys) - 1.0 * ("loss_pct" in keys))
        mode = shape.column("mode")
        if mode is not None:
            weight += 0.5 * sum(count for value, count in mode.counts.items() if (trade.mode_of(value) or {}).get("mode") == "fm")
        weight += 0.5 * rows * (shape.set.get("mode") == "fm")
    return weight / max(1, n) + 0.0001 * n / (n + 1000)


def _by_column(lack: Sequence[Shape]) -> bool:
    """A column of two words that goes with what was measured: of rows with a signal level it says one, of rows without it the other."""
    names: dict[str, int] = defaultdict(int)
    for shape in lack:
        for column in shape.columns:
            if column.key in ("_", "target", "network") and _two_words(column):
                names["|".join(sorted(value for value in column.counts if value))] += len(shape.rows)
    for pair, rows in sorted(names.items(), key=lambda item: -item[1]):
        words = set(pair.split("|"))
        members = [
            (shape, column)
            for shape in lack
            for column in shape.columns
            if column.key in ("_", "target", "network") and {v for v in column.counts if v} <= words and any(column.values)
        ]
        measured = {word: [0, 0] for word in words}
        for shape, column in members:
            level = shape.column("rssi_dbm") or shape.column("ber_pct")
            for at, word in enumerate(column.values):
                if word:
                    measured[word][0] += bool(level and level.values[at])
                    measured[word][1] += 1
        shares = [hits / max(1, of) for hits, of in measured.values()]
        if len(shares) == 2 and abs(shares[0] - shares[1]) > 0.7 and rows > 20:
            for _, column in members:
                column.key = "side"
            return True
    return False


def _two_words(column: Column) -> bool:
    filled = column.filled()
    return 1 <= len(filled) <= 2 and not any(char.isdigit() for value, _ in filled for char in value)


def _complement(voice: Sequence[Shape]) -> bool:
    """Where some shapes name one side and others name none, those are of the other side, if what they measure does not speak against it."""
    told = {str(shape.set["side"]) for shape in voice if "side" in shape.set and shape.column("duration")}
    if len(told) != 1 or any(shape.column("side") for shape in voice):  # an end without one is of its start's side
        return False
    other = OTHER[told.pop()]
    for shape in voice:
        keys = {column.key for column in shape.columns}
        measured = "loss_pct" not in keys if other == "air" else not keys & {"rssi_dbm", "ber_pct"}
        if not _has_side(shape) and "duration" in keys and measured:
            shape.set["side"] = other
    return True
