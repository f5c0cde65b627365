"""What speaks against a reading of whole overs: other numbers that could be the length, ignored lines that open what they close, and
time-outs that are too short to be any."""

from collections.abc import Mapping, Sequence

import numpy as np
from shared.zones import SECOND

from parsers.adopt import trade
from parsers.adopt.meaning import scores
from parsers.adopt.model import Column, Known, Sample, Shape
from parsers.adopt.traffic import FACTORS, Floats, raw_lengths

NEAR = 0.8  #: a number that scores so little less than the one taken could be the length as well
LONG_S = 86_400.0
BACK = 8  #: so many ignored lines before a whole over are looked at
SHORT_TIMEOUT_S = 5.0  #: time-out timers run for minutes (common practice, no source)


def other_lengths(shape: Shape, known: Known) -> list[int]:
    """Places of the columns of a whole over, the one taken among them, that could be its length; empty where there is no choice."""
    taken = shape.column("duration")
    if shape.event != "over" or taken is None or "duration" in known.holes.get(shape.name, {}).values():
        return []
    least = scores(taken).get("duration", 0.0) - NEAR
    others = [i for i, column in enumerate(shape.columns) if column.key == "_" and _could_last(column, least)]
    return sorted([*others, shape.columns.index(taken)]) if others else []


def _could_last(column: Column, least: float) -> bool:
    lasts, _ = raw_lengths(column)
    told = lasts[np.isfinite(lasts)]
    varies = len(column.counts) > max(3, 0.05 * len(column.values)) and len(told) > 0.9 * len(column.values)
    grows = varies and float((np.diff(told) >= 0).mean()) > 0.9
    ids = sum(trade.is_radio_id(value) for value in column.counts) > 0.5 * len(column.counts)
    return varies and not grows and not ids and float(np.median(told)) < LONG_S and scores(column).get("duration", -9.0) >= least


def opened_by_ignored(shape: Shape, sample: Sample, ignored: Sequence[int]) -> tuple[float, int]:
    """The share of a shape's whole overs that follow an ignored line of the same station by another number of theirs, in seconds, and the
    place of that number."""
    station = shape.column("station")
    best = (0.0, 0)
    rows = shape.rows[:400]
    before = np.searchsorted(ignored, rows)
    for number, column in enumerate(shape.columns):
        if column.key in ("duration", "station", "slot"):
            continue
        lasts, bare = raw_lengths(column)
        hits = of = 0
        for at, (row, place) in enumerate(zip(rows, before, strict=True)):
            if not bare or not np.isfinite(lasts[at]) or lasts[at] < 3:
                continue
            of += 1
            who = station.values[at] if station else ""
            for other in ignored[max(0, place - (BACK if who else 1)) : place]:
                gap = (int(sample.us[row]) - int(sample.us[other])) / SECOND
                hits += (near := abs(gap - lasts[at]) <= 0.3 + 0.005 * lasts[at] and who in sample.lines[other])
                if near:
                    break
        if of >= 5:
            best = max(best, (hits / of, number))
    return best


def short_timeouts(shapes: Sequence[Shape], whole: Mapping[str, object]) -> tuple[int, float]:
    """How many overs ended by a time-out, and the middle of their lengths in seconds (0 where there are none)."""
    lengths: list[Floats] = []
    for shape in shapes:
        column, cause = shape.column("duration"), shape.column("cause")
        if shape.event not in ("over", "over-end") or column is None:
            continue
        raw, bare = raw_lengths(column)
        unit = str(whole.get("seconds", "s"))
        factor = FACTORS.get(unit) or float(unit.removeprefix("frames:").removesuffix("ms")) / 1000
        timed = [
            shape.set.get("cause") == "timeout" or (cause is not None and trade.cause_of(cause.values[at]) == "timeout")
            for at in range(len(raw))
        ]
        lengths.append(raw[np.array(timed, dtype=np.bool_)] * (factor if bare else 1.0))
    found = np.concatenate(lengths) if lengths else np.zeros(0)
    found = found[np.isfinite(found)]
    return len(found), float(np.median(found)) if len(found) else 0.0
