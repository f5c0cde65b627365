"""How overs ended and why callers were refused: by a column, by fixed words, by the mode that a refusal names beside
the caller's.
"""

import re
import statistics
from collections import defaultdict
from collections.abc import Sequence

from parsers.adopt import trade, vocabulary
from parsers.adopt.evidence import ENDS, opinions
from parsers.adopt.model import Column, Known, Shape
from parsers.adopt.places import Place, talk_of
from parsers.adopt.signs import Facts
from parsers.adopt.trial import Ints
from shared.units import duration_seconds

LED = r"\b(?:because(?: of)?|cause|reason|why|due to)[ =:]+(.+)$"
TIMED_OUT = r"\b(?:time[ -]?d?[ -]?out|timeout)\b"
#: `pct lost` and the like: what the number before is a share of, and no cause
UNIT_PHRASE = (
    r"^\s*(?:%|(?:pct|percent|per cent)\b)\s*(?:(?:of|bits?|frames?|packets?)\s+)*"
    r"(?:lost|loss|missing|missed|dropped|ber|err\w*|wrong)?"
)
LONGER = 2.0  #: overs that timed out are so many times as long as others, in the middle
NETWORK_WORDS = 40  #: a link's name is no longer
NAMED = re.compile(r"(?=(?:\b(?:of|to|with|from|network|peer)[ =:]+|[\[\"])([A-Za-z][\w.-]*))")
LINKED = ("network", "of", "to", "with", "peer", "link")


def give_causes(shapes: Sequence[Shape], us: Ints, known: Known) -> None:
    """Keys of columns and constants of shapes: cause, reason, network."""
    ends = [shape for shape in shapes if shape.event in ("over-end", "over")]
    refused = [shape for shape in shapes if shape.event == "refused"]
    _give(ends, "cause", us)
    _give(refused, "reason", us)
    for shape in ends:
        if shape.column("cause") is None and (cause := _fixed_cause(shape, ends)):
            shape.set["cause"] = cause
    _like_siblings(ends)
    spelt = {
        value.lower()
        for shape in shapes
        for column in shape.columns
        if column.key == "mode"
        for value in column.counts
        if value
    }
    for shape in refused:
        if shape.column("reason") is None and (reason := _fixed_reason(shape, spelt, known)):
            shape.set["reason"] = reason
    for shape in shapes:
        if shape.event in ("link-up", "link-down") and shape.column("network") is None:
            _name_link(shape)


def phrase(shape: Shape) -> str:
    """The fixed words of a refusal, as a question asks for them."""
    return " ".join(shape.words)


def _give(shapes: Sequence[Shape], role: str, us: Ints) -> None:
    if not shapes:
        return
    talk = talk_of(shapes, us)
    settled: dict[str, Place] = {}
    for key in ("mode", "duration", "side"):
        place = next((one for one in talk.places if any(column.key == key for _, column in one.members)), None)
        settled |= {key: place} if place is not None else {}
    best: tuple[float, Place | None] = (0.0, None)
    for place in talk.places:
        if place.total and all(column.key in ("_", "reason", "cause") for _, column in place.members):
            score = next((one.score for one in opinions(Facts(place, talk, settled), ENDS) if one.role == role), -1.0)
            best = max(best, (score, place), key=lambda one: one[0])
    for shape, column in best[1].members if best[1] is not None else ():
        if shape.column(role) is None:
            column.key = role


def _fixed_cause(shape: Shape, ends: Sequence[Shape]) -> str | None:
    """The cause that fixed words tell: behind a word that says so, at the end of the line, or as the event itself."""
    others = [other for other in ends if other is not shape]
    fixed = [part for part in shape.parts if isinstance(part, str)]
    led = next((found[1] for part in fixed if (found := re.search(LED, part))), "")
    tail = shape.parts[-1] if shape.parts and isinstance(shape.parts[-1], str) else ""
    for text in (led, re.sub(UNIT_PHRASE, "", tail, flags=re.IGNORECASE)):
        cause = trade.cause_of(text)
        if cause == "lost" or (cause == "timeout" and _longer(shape, others)) or (cause == "released" and text is led):
            return cause
    unlike = [other for other in ends if not re.search(TIMED_OUT, trade.spaced(" ".join(other.words)))]
    return "timeout" if unlike and shape not in unlike and _longer(shape, unlike) else None


def _longer(shape: Shape, others: Sequence[Shape]) -> bool:
    """Whether a shape's overs are far longer than others, as those that run into a time-out are; yes where that can't
    be told.
    """
    mine, theirs = _lengths([shape]), _lengths(others)
    return not mine or not theirs or statistics.median(mine) >= LONGER * statistics.median(theirs)


def _lengths(shapes: Sequence[Shape]) -> list[float]:
    """Lengths of overs as the host writes them, in its own unit or in seconds."""
    columns = [column for shape in shapes if (column := shape.column("duration")) is not None]
    return [length for column in columns for value in column.values if (length := duration_seconds(value)) is not None]


def _like_siblings(ends: Sequence[Shape]) -> None:
    """Where shapes differ in their last words only, and those of some are a cause, the others' are one too."""
    by_head: dict[tuple[str | int, ...], list[Shape]] = defaultdict(list)
    for shape in ends:
        if shape.parts and isinstance(shape.parts[-1], str) and shape.column("cause") is None:
            unit = re.match(UNIT_PHRASE, shape.parts[-1], re.IGNORECASE)
            by_head[(*shape.parts[:-1], unit[0] if unit else "")].append(shape)
    for alike in by_head.values():
        if not any("cause" in shape.set for shape in alike):
            continue
        for shape in alike:
            cause = trade.cause_of(re.sub(UNIT_PHRASE, "", str(shape.parts[-1]), flags=re.IGNORECASE))
            others = [other for other in alike if other is not shape]
            if "cause" not in shape.set and cause and (cause != "timeout" or _longer(shape, others)):
                shape.set["cause"] = cause


def _fixed_reason(shape: Shape, spelt: set[str], known: Known) -> str | None:
    told = known.words.get("reason", {}).get(phrase(shape))
    if told is not None:
        return told or None
    if _names_another_mode(shape, spelt):
        return "other-mode"
    told = trade.reason_of(phrase(shape))
    shape.why_guessed = told is None
    return told or trade.reason_hint(phrase(shape))


def _names_another_mode(shape: Shape, spelt: set[str]) -> bool:
    """Whether each of a refusal's lines names, besides the caller's mode, another one: that is who holds. `spelt` are
    the log's modes.
    """
    own = shape.column("mode")
    fixed = {word for word in shape.words if word in spelt}
    if own is None:
        return len(fixed) > 1
    if fixed and not any(mine.lower() in fixed for mine in own.counts):
        return True
    return any(column is not own and _another_mode(own, column, spelt) for column in shape.columns)


def _another_mode(own: Column, column: Column, spelt: set[str]) -> bool:
    both = [(mine.lower(), theirs.lower()) for mine, theirs in zip(own.values, column.values, strict=True) if theirs]
    modes = {theirs for _, theirs in both}
    return (
        bool(both)
        and (modes <= spelt or all(map(trade.mode_of, modes)))
        and all(mine != theirs for mine, theirs in both)
    )


def _name_link(shape: Shape) -> None:
    """The column of a link's line that has a word and no other meaning is the link's name; where its words are fixed,
    the last of them is.
    """
    words = [column for column in shape.columns if column.key in ("_", "target", "side") and _names(column)]
    if words:
        called = [column for column in words if column.left and column.left[-1] in LINKED]
        (called or words)[-1].key = "network"
        return
    text = " ".join(part for part in shape.parts if isinstance(part, str))
    for found in reversed(list(NAMED.finditer(text))):
        said = found[1].lower()
        if (
            said not in (*LINKED, "the")
            and not trade.says(vocabulary.UP_WORDS, said)
            and not trade.says(vocabulary.DOWN_WORDS, said)
        ):
            shape.set["network"] = found[1]
            return


def _names(column: Column) -> bool:
    filled = column.filled()
    return bool(filled) and all(
        value[:1].isalpha() and len(value) <= NETWORK_WORDS and not trade.mode_of(value) for value, _ in filled
    )
