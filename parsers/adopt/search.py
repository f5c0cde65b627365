"""Readings of the traffic that compete: which kinds of line open, close or tell an over, by which number it lasts, in
what unit.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np

from parsers.adopt.stage import Stage
from parsers.adopt.trial import Floats, Ints, Overs, Trial, tried

START, END, OVER, REFUSED, IGNORED = "over-start", "over-end", "over", "refused", "ignore"
CLASSES = (START, END, OVER, REFUSED, IGNORED)
#: units of bare durations -> seconds; frame lengths of the air interfaces (shared.units)
FACTORS = {
    "s": 1.0, "ms": 0.001, "frames:20ms": 0.02, "frames:60ms": 0.06, "frames:30ms": 0.03, "frames:40ms": 0.04,
    "frames:80ms": 0.08, "frames:100ms": 0.1, "frames:180ms": 0.18, "frames:360ms": 0.36, "frames:90ms": 0.09,
    "frames:10ms": 0.01, "frames:60000ms": 60.0,
}  # fmt: skip
USUAL = ("s", "ms", "frames:20ms", "frames:60ms")  #: units that are thought of where no stamps can check them
CLOSE_S = 1.6  #: stamps may be whole seconds, and a line may be written late
SEEDS, TRIED_KINDS, LEAST_LINES = 3, 8, 4
FEW = 0.34  #: refusals are rarer than overs


@dataclass(frozen=True)
class Reading:
    """One way to read the traffic."""

    events: tuple[str, ...]  #: by kind
    unit: str
    stamp: str  #: event | end
    trial: Trial
    agreement: float = 0.0  #: share of the lengths that fit the stamps of both ends
    unit_margin: float = 9.0  #: by how much another unit would be worse
    stamp_margin: float = 9.0  #: by how much the other end of whole overs would be worse


@dataclass(frozen=True)
class Clues:
    """What is known before the traffic is looked at."""

    words: Sequence[Mapping[str, float]]  #: by kind: what its words say for each class, -1 to 1
    lengths: Floats
    bare: bool
    units: tuple[str, ...]
    fixed: Mapping[int, str]  #: kinds whose event the keeper told
    stamps: tuple[str, ...] = ("end", "event")


def best_reading(stage: Stage, clues: Clues) -> Reading:
    """The reading whose traffic is the likeliest."""
    seeds = {
        _whole_or_both(tuple(clues.fixed.get(k, event) for k, event in enumerate(seed)))
        for seed in _seeds(stage, clues)
    }
    found = sorted((_judged(stage, clues, seed) for seed in sorted(seeds)), key=lambda one: -one.trial.total)
    return max((_climbed(stage, clues, one) for one in found[:SEEDS]), key=lambda one: one.trial.total)


def _whole_or_both(events: tuple[str, ...]) -> tuple[str, ...]:
    """Where nothing opens overs, what would close one tells a whole one."""
    return events if START in events else tuple(OVER if event == END else event for event in events)


def _seeds(stage: Stage, clues: Clues) -> Iterator[tuple[str, ...]]:
    """Readings to begin with: what the words say; one kind of whole overs; two kinds of like count that open and
    close.
    """
    n = len(stage.kinds)
    yield tuple(max(CLASSES, key=lambda event: words.get(event, 0.0)) for words in clues.words)
    timed = _timed(stage, clues)
    most = list(range(min(n, TRIED_KINDS)))
    for kind in most:
        if kind in timed:
            yield tuple(OVER if k == kind else IGNORED for k in range(n))
    counts = np.bincount(stage.kind, minlength=n)
    for first, second in permutations(most, 2):
        alike = min(counts[first], counts[second]) >= 0.5 * max(counts[first], counts[second])
        if alike and (second in timed or not timed):
            yield tuple(START if k == first else END if k == second else IGNORED for k in range(n))


def _timed(stage: Stage, clues: Clues) -> set[int]:
    """Kinds whose lines tell a length."""
    told = np.isfinite(clues.lengths)
    return {k for k in range(len(stage.kinds)) if (mine := stage.kind == k).any() and told[mine].mean() > 0.5}


def _climbed(stage: Stage, clues: Clues, reading: Reading) -> Reading:
    """The reading with each kind in turn in the class that makes the traffic likeliest."""
    counts = np.bincount(stage.kind, minlength=len(stage.kinds))
    timed = _timed(stage, clues)
    for _ in range(2):
        before = reading
        for kind in range(len(stage.kinds)):
            if kind in clues.fixed or counts[kind] < LEAST_LINES:
                continue
            for event in CLASSES:
                if event == reading.events[kind] or (event == OVER and kind not in timed):
                    continue
                if event == (OVER if START in reading.events else END):
                    continue
                events = tuple(event if k == kind else one for k, one in enumerate(reading.events))
                other = _judged(stage, clues, events)
                reading = other if other.trial.total > reading.trial.total + 1e-9 else reading
        if reading is before:
            break
    events = _whole_or_both(reading.events)
    return reading if events == reading.events else _judged(stage, clues, events)


def _judged(stage: Stage, clues: Clues, events: tuple[str, ...]) -> Reading:
    """The reading of these events in the unit and with the stamp that suit it best."""
    played = _played(stage, events)
    told = _told(stage, clues, events, played)
    found: list[Reading] = []
    for unit in _units(clues, played, stage):
        lasts = clues.lengths * (FACTORS.get(unit) or 1.0)
        for stamp in clues.stamps if OVER in events else ("event",):
            overs, agreement = _overs(stage, played, lasts, stamp)
            found.append(Reading(events, unit, stamp, tried(overs, told), agreement))
    best = max(found, key=lambda one: one.trial.total)
    units = [one for one in found if one.unit != best.unit]
    stamps = [one for one in found if one.stamp != best.stamp and one.unit == best.unit]
    return replace(best, unit_margin=_margin(best, units), stamp_margin=_margin(best, stamps))


def _margin(best: Reading, others: Sequence[Reading]) -> float:
    """By how much a reading is better than others."""
    return best.trial.total - max((one.trial.total for one in others), default=-9.0)


@dataclass(frozen=True)
class Played:
    """Lines by number: pairs of start and end, whole overs, ends without a start, starts without an end."""

    starts: list[int]
    ends: list[int]
    wholes: list[int]
    lone: list[int]
    unfinished: int


def _played(stage: Stage, events: Sequence[str]) -> Played:
    """Starts and ends put together as intake does: by session where both have one, else by mode and slot, then side."""
    played = Played([], [], [], [], 0)
    unfinished = 0
    codes = [
        stage.codes[role].tolist() if role in stage.codes else None for role in ("mode", "slot", "side", "session")
    ]
    mode, slot, side, session = (one or [-1] * len(stage.when) for one in codes)
    opened: dict[tuple[int, int], dict[int, int]] = {}
    by_session: dict[int, tuple[tuple[int, int], int]] = {}
    for line, kind in enumerate(stage.kind.tolist()):
        event = events[kind]
        if event == OVER:
            played.wholes.append(line)
        elif event == START:
            key = mode[line], slot[line]
            mine = opened.setdefault(key, {})
            unfinished += side[line] in mine
            mine.pop(side[line], None)
            mine[side[line]] = line
            by_session[session[line]] = key, side[line]
        elif event == END:
            start = _start_of(opened, by_session, (mode[line], slot[line]), side[line], session[line])
            if start is None:
                played.lone.append(line)
            else:
                played.starts.append(start)
                played.ends.append(line)
    left = unfinished + sum(len(mine) for mine in opened.values())
    return replace(played, unfinished=left)


def _start_of(
    opened: dict[tuple[int, int], dict[int, int]],
    by_session: dict[int, tuple[tuple[int, int], int]],
    key: tuple[int, int],
    side: int,
    session: int,
) -> int | None:
    if session >= 0 and session in by_session:
        key, side = by_session.pop(session)
        return opened.get(key, {}).pop(side, None)
    mine = opened.get(key)
    if not mine:
        return None
    fits = side if side in mine else -1 if -1 in mine else next(reversed(mine)) if side == -1 else None
    return mine.pop(fits) if fits is not None else None


def _units(clues: Clues, played: Played, stage: Stage) -> tuple[str, ...]:
    """The units worth a thought: those in which lengths fit the stamps best, where stamps tell both ends."""
    if not clues.bare or len(clues.units) == 1:
        return clues.units[:1]
    if len(played.ends) < 5 or not np.isfinite(clues.lengths[played.ends]).any():
        return clues.units
    gaps = stage.when[played.ends] - stage.when[played.starts]
    raw = clues.lengths[played.ends]
    fits = {
        unit: float((np.abs(raw * factor - gaps) <= CLOSE_S + 0.01 * gaps).mean()) for unit, factor in FACTORS.items()
    }
    return (max(fits, key=lambda unit: fits[unit]),)


def _overs(stage: Stage, played: Played, lasts: Floats, stamp: str) -> tuple[Overs, float]:
    """The overs that come out, and the share of the lengths that fit the stamps."""
    when = stage.when
    starts, ends = np.array(played.starts, dtype=np.int64), np.array(played.ends, dtype=np.int64)
    single = np.array(played.wholes + played.lone, dtype=np.int64)
    gaps = when[ends] - when[starts]
    told = np.where(np.isfinite(lasts[ends]), lasts[ends], gaps)
    known = np.isfinite(lasts[single])
    at_end = np.array([stamp == "end"] * len(played.wholes) + [True] * len(played.lone), dtype=np.bool_)
    single, at_end = single[known], at_end[known]
    begin = np.where(at_end, when[single] - lasts[single], when[single])
    start = np.concatenate([when[starts], begin])
    end = np.concatenate([when[starts] + told, begin + lasts[single]])
    lines = np.concatenate([ends, single])
    compared = np.isfinite(lasts[ends])
    fits = np.abs(lasts[ends] - gaps) <= CLOSE_S + 0.01 * gaps
    agreement = float(fits[compared].mean()) if compared.any() else 0.0
    fits = np.concatenate([np.where(compared, fits, gaps >= 0), np.ones(len(single), dtype=np.bool_)])
    order = np.argsort(start, kind="stable")
    in_order = np.argsort(lines[order], kind="stable")
    left = int((~known).sum()) + played.unfinished
    made = Overs(
        start[order],
        end[order],
        _streams(stage, np.concatenate([starts, single]))[order],
        fits[order],
        left,
        _written(end[order][in_order]),
    )
    return made, agreement


def _written(ends: Floats) -> float:
    """The share of overs whose lines come no earlier than the overs end: ends rise from line to line."""
    return float((np.diff(ends) >= -CLOSE_S).mean()) if len(ends) > 1 else 1.0


def _streams(stage: Stage, lines: Ints) -> Ints:
    out = np.zeros(len(lines), dtype=np.int64)
    for role in ("mode", "slot", "side"):
        if role in stage.codes:
            out = out * 1000 + stage.codes[role][lines] + 1
    return out


def _told(stage: Stage, clues: Clues, events: Sequence[str], played: Played) -> dict[str, float]:
    """Shares that a trial of the lines alone can't tell: lines covered, overs with mode and station, what the words
    say.
    """
    counts = np.bincount(stage.kind, minlength=len(stage.kinds)).astype(np.float64)
    lines = np.array([event != IGNORED for event in events])[stage.kind]
    weight = 0.3 * stage.has("mode") + 1.0 * stage.has("station") + 3.0 * np.isfinite(clues.lengths)
    wasted = np.isfinite(clues.lengths) & np.array([event in (START, REFUSED) for event in events])[stage.kind]
    covered = float((weight * (lines & ~wasted)).sum() / max(1e-9, weight.sum()))
    overs = max(1, len(played.ends) + len(played.wholes) + len(played.lone))
    refused = sum(counts[k] for k, event in enumerate(events) if event == REFUSED)
    told = {"covered": covered - max(0.0, refused / overs - FEW)}
    first, second = np.array(played.starts, dtype=np.int64), np.array(played.ends, dtype=np.int64)
    single = np.array(played.wholes + played.lone, dtype=np.int64)
    for role in ("mode", "station", "target"):
        has = stage.has(role)
        most = overs if role == "mode" else max(1, int(np.bincount(stage.kind[has], minlength=1).max()))
        told[role] = min(1.0, float((has[first] | has[second]).sum() + has[single].sum()) / min(overs, most))
    if "station" in stage.codes and len(first):
        codes = stage.codes["station"]
        both = (codes[first] >= 0) & (codes[second] >= 0)
        told["station"] *= float((codes[first] == codes[second])[both].mean()) if both.any() else 1.0
    said = np.array([clues.words[k].get(event, 0.0) for k, event in enumerate(events)])
    share = np.sqrt(counts)
    told["words"] = float((share * said).sum() / max(1.0, share.sum()))
    return told
