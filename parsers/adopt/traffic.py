"""What the traffic itself tells: which lines open and close an over, in what unit durations are, whether whole overs are stamped at their end."""

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from shared.units import duration_seconds
from shared.zones import SECOND

from parsers.adopt import trade
from parsers.adopt.model import Column, Shape

#: units of bare durations -> seconds; frame lengths of the air interfaces (shared.units)
FACTORS = {
    "s": 1.0, "ms": 0.001, "frames:20ms": 0.02, "frames:60ms": 0.06, "frames:30ms": 0.03, "frames:40ms": 0.04,
    "frames:80ms": 0.08, "frames:100ms": 0.1, "frames:180ms": 0.18, "frames:360ms": 0.36, "frames:90ms": 0.09,
    "frames:10ms": 0.01, "frames:1000000ms": 1000.0, "frames:60000ms": 60.0,
}  # fmt: skip
BACK = 4  #: so many lines of a key are looked back for the one that opened an over
ANSWER_S = 5.0
CLOSE_S = 1.6  #: stamps may be whole seconds, and a line may be written late
Floats = npt.NDArray[np.float64]


def raw_lengths(column: Column) -> tuple[Floats, bool]:
    """The column's durations as they stand, nan where none, and whether they are bare numbers."""
    table = {value: duration_seconds(value) for value in column.counts}
    bare = sum(count for value, count in column.counts.items() if re.fullmatch(r"[0-9]+(?:[.,][0-9]+)?", value))
    return np.array([np.nan if table[value] is None else table[value] for value in column.values], dtype=np.float64), bare > 0.5 * sum(
        column.counts[value] for value in column.counts if value
    )


def told_unit(column: Column) -> str | None:
    """The unit that the words around a column name."""
    right = re.match(r"^\W{0,2}([A-Za-z]+)", column.right)
    for word in ([right[1].lower()] if right else []) + list(reversed(column.left[-2:] if column.name is None else column.left)):
        if word in ("s", "sec", "secs", "second", "seconds") and (right or column.name is not None or word != "s"):
            return "s"
        if re.fullmatch(r"ms|millis|msecs?|milliseconds?|milli", word):
            return "ms"
        if re.fullmatch(r"frames?|fr|frms?|bursts?", word):
            return "frames"
        if re.fullmatch(r"mins?|minutes?", word):
            return "frames:60000ms"
    return None


def key_fields(shapes: Sequence[Shape]) -> list[str]:
    """Which of mode, slot and side tell streams of overs apart in every shape that matters."""
    most = max((len(shape.rows) for shape in shapes), default=0)
    matter = [shape for shape in shapes if len(shape.rows) >= 0.03 * most]
    if matter and all(shape.column("session") for shape in matter):
        return ["session"]
    fields = [key for key in ("mode", "side") if all(shape.column(key) or key in shape.set for shape in matter)]
    # A slot that only the mode's spelling tells counts too.
    slotted = [shape for shape in matter if shape.column("slot") or "slot" in shape.set or _merged(shape)]
    dmr = [shape for shape in matter if shape.set.get("mode") == "dmr" or "dmr" in _modes(shape)]
    if slotted and all(shape in slotted for shape in dmr):
        fields.append("slot")
    if not fields and all(shape.column("station") for shape in matter):
        fields = ["station"]
    return fields


def _modes(shape: Shape) -> set[str]:
    column = shape.column("mode")
    return {found["mode"] for value in column.counts if (found := trade.mode_of(value))} if column else set()


def _merged(shape: Shape) -> bool:
    column = shape.column("mode")
    return bool(column) and any("slot" in (trade.mode_of(value) or {}) for value in column.counts)  # type: ignore[union-attr]


def keys_of(shape: Shape, fields: Sequence[str]) -> list[tuple[object, ...]]:
    """The stream of each row of a shape."""
    columns = []
    for key in fields:
        column = shape.column(key)
        modes = shape.column("mode")
        if key == "slot" and column is None and "slot" not in shape.set and modes is not None:
            columns.append([str((trade.mode_of(value) or {}).get("slot", "")) for value in modes.values])
        elif column is None:
            columns.append([str(shape.set.get(key, ""))] * len(shape.rows))
        elif key == "mode":
            columns.append([str((trade.mode_of(value) or {"mode": value})["mode"]) for value in column.values])
        elif key == "slot":
            columns.append([str(trade.slot_of(value) or "") for value in column.values])
        else:
            columns.append([trade.side_of(value) or value for value in column.values] if key == "side" else column.values)
    return list(zip(*columns, strict=True)) if columns else [()] * len(shape.rows)


@dataclass
class Befores:
    """For one shape's rows: how long before each a line of another shape stood on its key, since the last line of its own shape."""

    gaps: dict[int, Floats]  #: number of the other shape -> seconds by row, nan where there was none
    own: Floats  #: seconds since the line before of the same shape on the key


def look_back(shapes: Sequence[Shape], us: npt.NDArray[np.int64], enders: set[int]) -> dict[int, Befores]:
    """For each shape of `enders`, what stood before its rows on their keys."""
    fields = key_fields(shapes)
    order = []
    for number, shape in enumerate(shapes):
        order += [(row, number, at, key) for at, (row, key) in enumerate(zip(shape.rows, keys_of(shape, fields), strict=True))]
    order.sort()
    found = {number: Befores({}, np.full(len(shapes[number].rows), np.nan)) for number in enders}
    recent: dict[tuple[object, ...], list[tuple[int, int]]] = defaultdict(list)
    last: dict[tuple[object, ...], int] = {}
    for row, number, at, key in order:
        t = int(us[row])
        if number in enders:
            before = found[number]
            for other, when in recent[key][-BACK:]:
                before.gaps.setdefault(other, np.full(len(before.own), np.nan))[at] = (t - when) / SECOND
            if key in last:
                before.own[at] = (t - last[key]) / SECOND
            recent[key] = []
            last[key] = t
        else:
            recent[key] = [*recent[key][-BACK:], (number, t)]
    return found


def best_unit(raw: Floats, gaps: Sequence[Floats]) -> tuple[str, float]:
    """The unit in which durations agree best with the gaps between stamps, and the share of rows that then agree."""
    best = ("s", 0.0)
    for unit, factor in FACTORS.items():
        agrees = np.zeros(len(raw), dtype=np.bool_)
        for gap in gaps:
            agrees |= close(raw * factor, gap)
        told = np.isfinite(raw)
        for gap in gaps[:1]:
            told &= np.isfinite(gap) | np.any([np.isfinite(one) for one in gaps], axis=0)
        share = float(agrees.sum() / max(1, told.sum()))
        spread = float(np.nanstd(raw * factor)) if told.any() else 0.0
        if share > best[1] + 0.02 and spread > CLOSE_S:
            best = (unit, share)
    return best


def close(lengths: Floats, gaps: Floats) -> npt.NDArray[np.bool_]:
    """Where a duration and a gap between stamps say the same."""
    with np.errstate(invalid="ignore"):
        return np.abs(lengths - gaps) <= CLOSE_S + 0.01 * lengths


def unit_by_size(raw: Floats, named: str | None) -> str:
    """A guess at the unit of bare durations that no stamps can check: overs last some ten seconds as a rule, and seldom more than minutes."""
    if named is not None:
        return "frames:20ms" if named == "frames" else named
    told = raw[np.isfinite(raw) & (raw > 0)]
    if not len(told):
        return "s"
    middle = float(np.median(told))
    whole = bool((told == np.round(told)).all())
    if middle > 1500:
        return "ms"
    return "frames:20ms" if middle > 150 and whole else "s"


def stamped_at_end(
    shapes: Sequence[Shape], us: npt.NDArray[np.int64], lengths: dict[int, Floats], every_us: npt.NDArray[np.int64]
) -> tuple[bool, float]:
    """Whether whole overs are stamped when they ended, and how sure that is, 0 to 1.

    Overs of one stream can't overlap: with the wrong reading of the stamp they do. People answer within seconds: with the wrong reading they don't.
    And a line is written when all it tells is known, so
    that a log whose stamps never run backwards has been stamped at the end.
    """
    fields = key_fields(shapes)
    streams: dict[tuple[object, ...], list[tuple[int, float]]] = defaultdict(list)
    for number, shape in enumerate(shapes):
        for row, key, length in zip(shape.rows, keys_of(shape, fields), lengths[number], strict=True):
            if np.isfinite(length) and length > 0:
                streams[key].append((int(us[row]), float(length)))
    as_end = as_start = pairs = answers_end = answers_start = 0
    for stream in streams.values():
        ordered = sorted(stream)
        for (t, length), (after, later) in pairwise(ordered):
            gap = (after - t) / SECOND
            pairs += 1
            as_start += gap < length - 1.1
            as_end += gap < later - 1.1
            answers_start += -1.1 <= gap - length < ANSWER_S
            answers_end += -1.1 <= gap - later < ANSWER_S
    if pairs and abs(as_end - as_start) >= max(2, 0.01 * pairs):
        return as_end < as_start, min(1.0, 0.6 + abs(as_end - as_start) / pairs)
    if max(answers_end, answers_start) >= 5 and abs(answers_end - answers_start) > 0.1 * max(answers_end, answers_start):
        return answers_end > answers_start, 0.8
    rows = sorted(row for shape in shapes for row in shape.rows)
    backwards = sum(1 for row in rows if row and every_us[row] < every_us[row - 1] - 1.1 * SECOND)
    long = sum(int(np.nansum(lengths[number] > 3)) for number in range(len(shapes)))
    return backwards < 0.02 * max(1, long), 0.6
