"""Which event each shape tells: by its words, and by how lines follow one another."""

import re
from collections import defaultdict
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from shared.zones import SECOND

from parsers.adopt import trade
from parsers.adopt.kinds import open_and_close
from parsers.adopt.meaning import scores
from parsers.adopt.model import Column, Known, Shape
from parsers.adopt.traffic import (
    FACTORS,
    Floats,
    best_unit,
    close,
    key_fields,
    keys_of,
    look_back,
    raw_lengths,
    stamped_at_end,
    told_unit,
    unit_by_size,
)

Ints = npt.NDArray[np.int64]
MODE_ONLY = "a mode, and no word that is known"
AGREES = 0.7  #: so many lines must agree with the stamps where a number that no word calls a length is taken for one
ENOUGH = 0.4  #: share of the closing lines for which an opening one must be found


def said(shape: Shape) -> str:
    """The fixed words of a shape, apart and in lower case."""
    return " ".join(shape.words)


def give_events(shapes: Sequence[Shape], us: Ints, known: Known) -> dict[str, object]:
    """Gives every shape its event. Returns what holds for the whole dialect: `seconds` (unit), `stamp`, and how sure each is."""
    found: dict[str, object] = {"seconds": known.seconds or "s", "seconds_sure": 1.0, "stamp": "event", "stamp_sure": 1.0}
    for shape in shapes:
        _by_words(shape, us)
    voice = [shape for shape in shapes if shape.event == "voice"]
    if voice:
        found |= _overs(voice, us, known)
    _like_kin(shapes)
    for shape in shapes:
        if shape.name in known.events:
            shape.event, shape.sure, shape.why = known.events[shape.name], True, "said"
        if shape.event == "voice":
            shape.event = "ignore"
    return found


def _like_kin(shapes: Sequence[Shape]) -> None:
    """Lines that only lack a value tell the same event as those that have it."""
    eldest: dict[int, Shape] = {}
    for shape in sorted(shapes, key=lambda shape: -len(shape.rows)):
        if shape.kin and (first := eldest.setdefault(shape.kin, shape)) is not shape and first.event != "ignore":
            shape.event, shape.why = first.event, first.why


def _has(shape: Shape, key: str) -> bool:
    return shape.column(key) is not None or key in shape.set


def _by_words(shape: Shape, us: Ints) -> None:
    """Events that words tell; `voice` for what may be part of an over."""
    words = said(shape)
    mode = shape.column("mode")
    pocsag = shape.set.get("mode") == "pocsag" or (
        mode is not None and all((trade.mode_of(v) or {}).get("mode") == "pocsag" for v, _ in mode.filled())
    )
    level = next((word for word in shape.words[:2] if word in ("debug", "trace", "verbose", "dbg")), None)
    told = _has(shape, "mode") or _has(shape, "slot") or shape.column("station") is not None
    talks = told or shape.column("session") is not None
    link = trade.says(trade.LINK_WORDS, words)
    up, down = trade.says(trade.UP_WORDS, words), trade.says(trade.DOWN_WORDS, words)
    carries = shape.column("duration") is not None or shape.column("ber_pct") is not None or shape.column("loss_pct") is not None
    shape.sure = True
    if level and not carries:
        shape.event = "ignore"
    elif pocsag or (trade.says(trade.PAGE, words) and not shape.column("station") and not mode):
        shape.event = "page"
    elif trade.says(trade.REFUSED, words) and talks and not carries:
        shape.event = "refused"
    elif (
        talks
        and shape.column("station") is None
        and not carries
        and link
        and (up or down)
        and not _has(shape, "slot")
        and len(shape.rows) < 0.2 * len(us)
    ):
        shape.event = "link-down" if down > up or (trade.says(r"dis|un|no longer|lost|down|drop\w*", words) and down >= up) else "link-up"
    elif (
        talks
        and (
            shape.column("station") is not None
            or carries
            or _has(shape, "slot")
            or trade.says(trade.START, words)
            or trade.says(trade.END, words)
        )
    ) or (carries and shape.column("duration") is not None and _has(shape, "side")):
        shape.event = "voice"
    elif _periodic(shape, us):
        shape.event = "alive" if not shape.columns or trade.says(trade.ALIVE, words) else "ignore"
    elif link and (up or down) and not talks:
        shape.event = "link-down" if down > up else "link-up"
    elif trade.says(trade.CARRIER, words) and (up or down or trade.says(trade.START, words) or trade.says(trade.END, words)):
        ended = trade.says(trade.END, words) + down > trade.says(trade.START, words) + up
        shape.event = "carrier-down" if ended else "carrier-up"
    elif (
        len(shape.rows) <= max(3, 0.004 * len(us))
        and trade.says(trade.HOST, words)
        and (trade.says(trade.HOST_UP, words) or trade.says(trade.HOST_DOWN, words))
    ):
        shape.event = (
            "host-stop"
            if trade.says(trade.HOST_DOWN, words) >= trade.says(trade.HOST_UP, words) + ("shut" not in words and "stop" not in words)
            else "host-start"
        )
        shape.sure = False
    elif trade.says(trade.ALIVE, words) and len(shape.rows) > 3 and not shape.columns:
        shape.event = "alive"
    elif _has(shape, "mode") and len(shape.rows) >= 0.02 * len(us):
        shape.event, shape.why = "voice", MODE_ONLY  # no word that is known, but lengths may show that it opens overs
    else:
        shape.event = "ignore"


def _periodic(shape: Shape, us: Ints) -> bool:
    """Whether the lines come at even intervals."""
    if len(shape.rows) < 8:
        return False
    steps = np.diff(us[shape.rows]) / SECOND
    middle = float(np.median(steps))
    return middle >= 1 and float((np.abs(steps - middle) <= max(1.5, 0.02 * middle)).mean()) > 0.85


def _overs(voice: list[Shape], us: Ints, known: Known) -> dict[str, object]:
    """Which of the voice shapes open, close, or tell whole overs."""
    words = [said(shape) for shape in voice]
    opens = [trade.says(trade.START, text) for text in words]
    closes = [trade.says(trade.END, text) for text in words]
    lengths = _length_columns(voice)
    if not any(lengths) and not any(close > open_ for close, open_ in zip(closes, opens, strict=True)):
        opening, closing = open_and_close(voice, us)
        opens = [1 if i in opening else 0 if i in closing else one for i, one in enumerate(opens)]
        closes = [1 if i in closing else 0 if i in opening else one for i, one in enumerate(closes)]
    enders = {i for i, shape in enumerate(voice) if lengths[i] or closes[i] > opens[i]}
    befores = look_back(voice, us, enders)
    units: list[tuple[str, float, int, bool]] = []
    seconds: dict[int, Floats] = {}
    starts: dict[int, float] = {}
    ends: set[int] = set()
    for i in sorted(enders, key=lambda i: -len(voice[i].rows)):
        shape = voice[i]
        gaps = {other: gap for other, gap in befores[i].gaps.items() if opens[other] >= closes[other] or lengths[i]}
        if lengths[i]:
            place, raw, bare, unit, share = _choose_length(shape, lengths[i], list(gaps.values()), known)
            if shape.columns[place].key != "duration" and share < ENOUGH and not _looks_timed(shape.columns[place]):
                continue
            if share < ENOUGH and "duration" not in known.holes.get(shape.name, {}).values():
                others = [at for at, column in enumerate(shape.columns) if at not in lengths[i] and _other_number(column)]
                rival = _choose_length(shape, others, list(gaps.values()), known) if others and gaps else None
                if rival and rival[4] >= AGREES:  # stamps say more than words: the line came so long after the one that opens
                    shape.columns[place].key = "_"
                    place, raw, bare, unit, share = rival
            if share < ENOUGH and bare:
                unit = known.seconds or unit_by_size(raw, told_unit(shape.columns[place]))
            shape.columns[place].key = "duration"
            factor = FACTORS.get(unit) or float(unit.removeprefix("frames:").removesuffix("ms")) / 1000
            seconds[i] = raw * (factor if bare else 1.0)
            if bare:
                units.append((unit, share, len(shape.rows), told_unit(shape.columns[place]) in ("s", "ms")))
            good = {other: close(seconds[i], gap) for other, gap in gaps.items()}
        else:
            known_words = {other: gap for other, gap in gaps.items() if voice[other].why != MODE_ONLY}
            good = {other: np.isfinite(gap) & (gap >= 0) & (gap < 3600) for other, gap in known_words.items()}
        covered, chosen = _cover(good, voice, opens)
        if covered >= ENOUGH:
            ends.add(i)
            for other in chosen:
                starts[other] = max(starts.get(other, 0.0), covered)
            shape.event, shape.sure, shape.why = "over-end", True, f"{covered:.0%} close a line that opened"
        elif lengths[i]:
            shape.event, shape.why = "over", "a duration, and no line that opens"
        else:
            shape.event, shape.sure, shape.why = "over-end", False, "words only"
    for other in starts:
        voice[other].event, voice[other].why = "over-start", "opens what another line closes"
    _leftovers(voice, opens, closes, bool(starts), _busy(voice, us, seconds))
    for i, lasts in seconds.items():
        if voice[i].event == "over" and _is_paging(voice[i], lasts):
            voice[i].event, voice[i].sure, voice[i].why = "page", False, "no station, and lengths of whole batches"
    out: dict[str, object] = {}
    if units:
        unit, share, _, told = max(units, key=lambda one: (one[1] >= ENOUGH, one[2]))
        out |= {
            "seconds": known.seconds or unit,
            "seconds_sure": 1.0 if known.seconds or told or share >= ENOUGH else 0.7 if unit == "s" else 0.5,
        }
    wholes = [i for i in seconds if voice[i].event == "over"]
    if wholes:
        at_end, sure = stamped_at_end([voice[i] for i in wholes], us, {k: seconds[i] for k, i in enumerate(wholes)}, us)
        out |= {"stamp": known.stamp or ("end" if at_end else "event"), "stamp_sure": 1.0 if known.stamp else sure}
    return out


def _other_number(column: Column) -> bool:
    """Whether a column that no word calls a length holds numbers that vary as lengths do."""
    return len(column.counts) > max(3, 0.05 * len(column.values)) and "duration" in scores(column) and not _counts_up(column)


def _looks_timed(column: Column) -> bool:
    """Whether numbers without a name have the fractions that lengths have."""
    return sum(count for value, count in column.counts.items() if re.search(r"[0-9][.,:][0-9]", value)) > 0.5 * sum(column.counts.values())


def _length_columns(voice: list[Shape]) -> list[list[int]]:
    """By shape: which columns may be durations; those whose words say so alone, where there are any."""
    out = []
    for shape in voice:
        told = [i for i, column in enumerate(shape.columns) if column.key == "duration"]
        if not told:
            told = [
                i for i, column in enumerate(shape.columns)
                if column.key == "_" and "duration" in scores(column) and len(column.counts) > max(3, 0.05 * len(shape.rows)) and not _counts_up(column)
            ]  # fmt: skip
        out.append(told)
    return out


def _counts_up(column: Column) -> bool:
    """Whether numbers only ever grow, as those of a count of lines do."""
    numbers = [float(value) for value in column.values if value.isdigit()]
    return len(numbers) > 3 and sum(b >= a for a, b in pairwise(numbers)) > 0.95 * (len(numbers) - 1)


def _choose_length(shape: Shape, places: list[int], gaps: list[Floats], known: Known) -> tuple[int, Floats, bool, str, float]:
    """The column that agrees best with stamp differences, its durations, whether they are bare, their unit, and how many agree."""
    tried = []
    for place in places:
        raw, bare = raw_lengths(shape.columns[place])
        if bare and not known.seconds:
            unit, share = best_unit(raw, gaps) if gaps else ("s", 0.0)
        else:
            unit = known.seconds or "s"
            factor = FACTORS.get(unit, 1.0) if bare else 1.0
            agrees = np.zeros(len(raw), dtype=np.bool_)
            for gap in gaps:
                agrees |= close(raw * factor, gap)
            share = float(agrees.mean()) if len(agrees) else 0.0
        tried.append((share, -place, raw, bare, unit))
    share, place, raw, bare, unit = max(tried, key=lambda one: (one[0], one[1]))
    return -place, raw, bare, unit, share


def _cover(good: dict[int, npt.NDArray[np.bool_]], voice: list[Shape], opens: list[int]) -> tuple[float, list[int]]:
    """The share of closing lines that have an opening one among the shapes, and the fewest shapes that give it: of two that open the same
    overs the one that tells more."""
    if not good:
        return 0.0, []
    n = len(next(iter(good.values())))
    left = np.ones(n, dtype=np.bool_)
    chosen: list[int] = []
    tells = {other: _tells(voice[other]) + 0.1 * min(1, opens[other]) for other in good}
    while good:
        # A second opening of an over that has one would leave the first unfinished: that counts against a shape.
        worth = {other: float((fits & left).sum()) * tells[other] - 0.7 * float((fits & ~left).sum()) for other, fits in good.items()}
        best = max(worth, key=lambda other: worth[other])
        if (good[best] & left).sum() < max(1, 0.002 * n) or worth[best] <= 0:
            break
        chosen.append(best)
        left = left & ~good.pop(best)
    return float(1 - left.mean()) if n else 0.0, chosen


def _is_paging(shape: Shape, lasts: Floats) -> bool:
    """Whether lengths are those of pages: few, short and ever the same (a page is a whole number of batches), and nobody is named."""
    told = np.round(lasts[np.isfinite(lasts)], 2)
    station = shape.column("station")
    return len(told) >= 20 and len(np.unique(told)) <= 6 and float(told.max()) < 10 and (station is None or not any(station.values))


def _busy(voice: list[Shape], us: Ints, seconds: dict[int, Floats]) -> Callable[[Shape], float]:
    """Gives for a shape the share of its lines that fall within an over of their own mode and slot."""
    fields = [key for key in key_fields(voice) if key != "side"]
    spans: dict[tuple[object, ...], list[tuple[int, int]]] = defaultdict(list)
    for i, lasts in seconds.items():
        sign = -1 if voice[i].event == "over-end" else 1
        for row, key, length in zip(voice[i].rows, keys_of(voice[i], fields), lasts, strict=True):
            if np.isfinite(length) and length > 0:
                edge = int(us[row]) + sign * int(length * SECOND)
                spans[key].append((min(edge, int(us[row])), max(edge, int(us[row]))))
    edges = {key: (np.array(sorted(s for s, _ in some)), np.array(sorted(e for _, e in some))) for key, some in spans.items()}

    def share(shape: Shape) -> float:
        inside = 0
        for row, key in zip(shape.rows, keys_of(shape, fields), strict=True):
            if key in edges:
                starts, ends = edges[key]
                inside += bool(np.searchsorted(starts, us[row], side="right") > np.searchsorted(ends, us[row], side="left"))
        return inside / len(shape.rows)

    return share


def _tells(shape: Shape) -> float:
    """How much a line that opens an over would tell of it."""
    return 1 + 1.0 * (shape.column("station") is not None) + 0.15 * (shape.column("target") is not None) + 0.2 * _has(shape, "mode")


def _leftovers(voice: list[Shape], opens: list[int], closes: list[int], has_starts: bool, busy: Callable[[Shape], float]) -> None:
    """Shapes that the traffic said nothing about: small ones follow their words where larger ones of the same words were told."""
    told = [shape for shape in voice if shape.event != "voice"]
    for i, shape in enumerate(voice):
        if shape.event != "voice":
            continue
        mine = set(shape.words)
        alike = [
            (len(mine & set(other.words)) / max(1, len(mine | set(other.words))), len(other.rows), other.event)
            for other in told
            if other.words
        ]
        best = max(alike, default=(0.0, 0, "ignore"))
        small = len(shape.rows) < 0.02 * sum(len(one.rows) for one in voice)
        if small and best[0] >= 0.6 and best[2] in ("over-start", "over-end"):
            shape.event, shape.sure = best[2], False
        elif not has_starts and opens[i] > closes[i] and any(one.event == "over-end" for one in told):
            shape.event, shape.sure = "over-start", False
        elif (
            shape.column("station") is not None
            and any(one.event in ("over-end", "over") for one in told)
            and _few(shape, voice)
            and busy(shape) < 0.3
        ):
            shape.event, shape.sure, shape.why = "refused", False, "a caller outside of any over"
        else:
            shape.event, shape.sure = "ignore", False


def _few(shape: Shape, voice: list[Shape]) -> bool:
    return len(shape.rows) < 0.2 * sum(len(one.rows) for one in voice if one.event in ("over-end", "over"))
