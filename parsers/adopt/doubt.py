"""How far a reading can be trusted, field by field: what is sure, what is a guess, what is not known, and what that
weighs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain

import numpy as np

from parsers.adopt import trade
from parsers.adopt.model import TALK, Known, Sample, Shape
from parsers.adopt.overs import factor
from parsers.adopt.questions import (
    Question,
    events_asked,
    lengths_asked,
    marks_asked,
    reasons_asked,
    stamps_asked,
    words_asked,
)
from parsers.adopt.stage import raw_lengths
from parsers.adopt.trial import Ints
from parsers.adopt.understand import Understood
from shared.events import MODE_LABELS
from shared.numbers import grouped
from shared.zones import SECOND

MOST = 5
MATTERS = 0.01  #: a spelling of fewer lines is not worth a doubt
UNSETTLED = 0.06  #: what an open question about a field that overs have weighs: no reading is called good with one
SHIFTED = 0.03  #: starts that are off by the length of the over leave mode and length as they are
ORDER = 0.4  #: day and month the other way round would spoil nearly all
SHORT_TIMEOUT_S = 5.0  #: time-out timers run for minutes (common practice, no source)
BACK, ROWS, LEAST = (
    8,
    400,
    5,
)  #: ignored lines before a whole over that are looked at, of so many overs; fewer tell nothing
OFTEN = 0.6
FOLLOWED = "the lengths of whole overs: another number in each is the time since an ignored line of the same station"
FIELDS = ("mode", "slot", "side", "station", "target", "duration", "cause", "refusals", "links")


@dataclass
class Seen:
    """What is asked, guessed, sure, and in doubt (a share of the overs)."""

    questions: list[Question] = field(default_factory=list)
    guessed: list[str] = field(default_factory=list)
    sure: list[str] = field(default_factory=list)
    doubt: dict[str, float] = field(default_factory=dict)
    fields: dict[str, str] = field(default_factory=dict)  #: sure | guessed | unknown


def review(sample: Sample, shapes: Sequence[Shape], made: Understood, known: Known) -> Seen:
    """What can and what can't be relied on in a dialect of these shapes."""
    overs = _lines(shapes, ("over-end", "over")) or 1
    followed = _opened_by_ignored(sample, shapes, known)
    asked = list(
        chain(
            words_asked(sample, shapes, made.words),
            marks_asked(sample, made),
            stamps_asked(sample, overs, known),
            lengths_asked(sample, made, overs, known, followed),
            events_asked(sample, made, shapes, known),
            reasons_asked(sample, made, known),
        )
    )
    asked.sort(key=lambda question: (question.about not in FIELDS[:4], -question.overs))
    asked.sort(key=lambda question: question.about != "zone")  # every hour of every figure hangs on it
    doubt = _of_questions(asked, shapes, overs) | _modeless(shapes) | _not_shown(shapes) | made.roles.doubts()
    lost = sum(len(shape.rows) for shape in shapes if shape.name in followed and shape.event == "over")
    doubt |= {FOLLOWED: lost / overs} | _short_timeouts(shapes, made)
    left_out = made.roles.left_out()
    doubt |= {_says_left_out(role): max(share, UNSETTLED) for role, share in left_out.items()}
    weak = [shape for shape in shapes if not shape.sure and shape.event in TALK]
    guessed = [question.asks for question in asked]
    guessed += [f"“{shape.name}” is taken for {shape.event}, by its words alone." for shape in weak]
    fields = _fields(shapes, asked, made) | dict.fromkeys(left_out, "guessed")
    return Seen(
        asked[:MOST],
        guessed,
        _certain(sample, shapes, made, fields),
        {what: min(1.0, share) for what, share in doubt.items() if share > 0},
        fields,
    )


def _lines(shapes: Sequence[Shape], events: Sequence[str] = TALK) -> int:
    return sum(len(shape.rows) for shape in shapes if shape.event in events)


def _of_questions(asked: Sequence[Question], shapes: Sequence[Shape], overs: int) -> dict[str, float]:
    """What each open question weighs."""
    out: dict[str, float] = {}
    for question in asked:
        share = min(1.0, question.overs / max(1, _lines(shapes) if question.about == "mode" else overs))
        if question.about == "mode":
            out[f"mode {question.key.partition('.')[2]}"] = max(0.5 * share, UNSETTLED if share >= MATTERS else 0.0)
        elif question.about == "stamps":
            out["which is the day and which the month"] = ORDER
        elif question.key.startswith("hole."):
            out["which number is the length"] = out.get("which number is the length", 0.0) + 0.3 * share
        elif question.key == "seconds":
            out["the unit of the durations"] = UNSETTLED
        elif question.key == "stamp":
            out["whether overs are stamped when they began or when they ended"] = SHIFTED
        elif question.about in ("side", "slot", "cause"):
            out[f"what the words of a {question.about} stand for"] = UNSETTLED
        elif question.about == "events" and share >= MATTERS:
            out["what lines tell that nobody has explained"] = UNSETTLED
    return out


def _modeless(shapes: Sequence[Shape]) -> dict[str, float]:
    """Overs without any mode can't be right; an end that names its session has the mode of its start."""
    ends = [shape for shape in shapes if shape.event in ("over-end", "over") and shape.column("session") is None]
    of = sum(len(shape.rows) for shape in ends) or 1
    lacking = sum(len(shape.rows) for shape in ends if shape.column("mode") is None and "mode" not in shape.set)
    return {"overs whose mode is not told": lacking / of}


def _not_shown(shapes: Sequence[Shape]) -> dict[str, float]:
    """The share of lines whose spelling of a mode the sample has not shown yet, by those seen once (Good, 1953, after
    Turing).
    """
    columns = [column for shape in shapes if shape.event in TALK and (column := shape.column("mode")) is not None]
    counts: dict[str, int] = {}
    for column in columns:
        for value, count in column.counts.items():
            counts[value] = counts.get(value, 0) + count
    lines = sum(counts.values())
    return {
        "spellings of modes that the sample has not shown": sum(count == 1 for count in counts.values()) / lines
        if lines
        else 0.0
    }


def _opened_by_ignored(sample: Sample, shapes: Sequence[Shape], known: Known) -> dict[str, int]:
    """Whole overs that follow an ignored line of the same station by another number of theirs: which column that is,
    by shape.
    """
    told = {row for shape in shapes if shape.event != "ignore" for row in shape.rows}
    ignored = np.array([row for row in range(len(sample.lines)) if row not in told], dtype=np.int64)
    wholes = [shape for shape in shapes if shape.event == "over" and shape.name not in known.holes]
    found = {shape.name: _followed(sample, shape, ignored) for shape in wholes}
    return {name: place for name, (share, place) in found.items() if share >= OFTEN}


def _followed(sample: Sample, shape: Shape, ignored: Ints) -> tuple[float, int]:
    """The greatest share, over the numbers of a shape, of lines that come so long after an ignored line of their
    station; and its place.
    """
    rows = shape.rows[:ROWS]
    before = np.searchsorted(ignored, rows)
    best = (0.0, 0)
    for place, column in enumerate(shape.columns if shape.column("station") is not None else ()):
        lasts, bare = raw_lengths(column)
        if column.key in ("duration", "station", "slot") or not bare:
            continue
        tried = [at for at in range(len(rows)) if np.isfinite(lasts[at]) and lasts[at] >= 3]
        hits = sum(
            _comes_after(sample, shape, at, lasts[at], ignored[max(0, before[at] - BACK) : before[at]]) for at in tried
        )
        best = max(best, (hits / len(tried) if len(tried) >= LEAST else 0.0, place))
    return best


def _comes_after(sample: Sample, shape: Shape, at: int, lasts: float, earlier: Ints) -> bool:
    station = shape.column("station")
    who, now = station.values[at] if station else "", int(sample.us[shape.rows[at]])
    gaps = [(now - int(sample.us[row])) / SECOND for row in earlier if who and who in sample.lines[row]]
    return any(abs(gap - lasts) <= 0.3 + 0.005 * lasts for gap in gaps)


def _short_timeouts(shapes: Sequence[Shape], made: Understood) -> dict[str, float]:
    """Overs that timed out, and are too short for that."""
    found: list[float] = []
    for shape in shapes:
        column, cause = shape.column("duration"), shape.column("cause")
        if shape.event not in ("over", "over-end") or column is None:
            continue
        raw, bare = raw_lengths(column)
        seconds = raw * (factor(made.told.seconds) if bare else 1.0)
        said = cause.values if cause is not None else [""] * len(raw)
        timed = [shape.set.get("cause") == "timeout" or trade.cause_of(text) == "timeout" for text in said]
        found += [float(one) for one, out in zip(seconds, timed, strict=True) if out and np.isfinite(one)]
    middle = float(np.median(found)) if len(found) >= 3 else SHORT_TIMEOUT_S
    if middle >= SHORT_TIMEOUT_S:
        return {}
    return {
        f"the unit of the durations: the {grouped(len(found))} overs that timed out would have lasted "
        f"only {middle:.1f} s, "
        "and time-out timers run for minutes": 0.5
    }


def _says_left_out(role: str) -> str:
    return f"the {role} of some overs: a column of theirs that looks like it is left unexplained"


def _fields(shapes: Sequence[Shape], asked: Sequence[Question], made: Understood) -> dict[str, str]:
    """Of each field whether it is sure, guessed, or unknown."""
    open_ones = {question.about for question in asked}
    talk = [shape for shape in shapes if shape.event in TALK]
    has = {key: any(shape.column(key) is not None or key in shape.set for shape in talk) for key in FIELDS}
    has["slot"] = has["slot"] or any("slot" in means for means in made.words.tables.get("mode", {}).values())
    has |= {"duration": bool(talk), "refusals": any(shape.event == "refused" for shape in shapes)}
    has["links"] = any(shape.event in ("link-up", "link-down") for shape in shapes)
    return {key: "guessed" if key in open_ones else "sure" if has[key] else "unknown" for key in FIELDS}


EVENTS = (
    ("over-start", "opens an over", "open an over"),
    ("over-end", "closes one", "close one"),
    ("over", "tells a whole over", "tell a whole over"),
    ("refused", "tells of a refusal", "tell of a refusal"),
)


def _certain(sample: Sample, shapes: Sequence[Shape], made: Understood, fields: Mapping[str, str]) -> list[str]:
    time = sample.stamping.time if sample.stamping else "none"
    zone = f", zone {sample.zone}" if sample.zone_sure else ""
    out = [f"Stamps: {time}{zone}; envelope: {sample.envelope}."]
    if modes := _modes_named(shapes, made):
        out.append("Modes told by their names: " + ", ".join(MODE_LABELS[mode] for mode in modes) + ".")
    for event, one, more in EVENTS:
        number = sum(shape.event == event for shape in shapes)
        if number:
            out.append(f"1 shape of line {one}." if number == 1 else f"{number} shapes of line {more}.")
    if any(shape.column("duration") for shape in shapes):
        out.append(f"Durations that are bare numbers are read as {made.told.seconds}.")
    if any(shape.event == "over" for shape in shapes):
        out.append(f"Whole overs are stamped at their {'end' if made.told.stamp == 'end' else 'start'}.")
    for level, says in (("sure", "are sure"), ("unknown", "the log does not tell, so that they stay unknown")):
        keys = ", ".join(key for key, one in fields.items() if one == level)
        out += [f"Fields that {says}: {keys}."] if keys else []
    return out + [f"Evidence for {says}." for says in made.roles.told()]


def _modes_named(shapes: Sequence[Shape], made: Understood) -> list[str]:
    """Modes that no guess was needed for."""
    table = made.words.tables.get("mode", {})
    named = {value for value, means in table.items() if "mode" in means and ("mode", value) not in made.words.guessed}
    fixed = {str(shape.set["mode"]) for shape in shapes if "mode" in shape.set and shape.event != "ignore"}
    return sorted({str(table[value]["mode"]) for value in named} | fixed)
