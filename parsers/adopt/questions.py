"""What is asked of the keeper: which words stand for what, the zone, the unit, the length, and lines that nobody would
leave out unasked.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from parsers.adopt.causes import phrase
from parsers.adopt.model import TALK, Column, Known, Sample, Shape
from parsers.adopt.naming import named
from parsers.adopt.overs import factor
from parsers.adopt.search import CLOSE_S
from parsers.adopt.stage import raw_lengths
from parsers.adopt.trial import Floats
from parsers.adopt.understand import Understood
from parsers.adopt.words import Words
from shared.events import CAUSES, MODE_LABELS, MODES, REASONS, SIDES
from shared.zones import SECOND

EXAMPLES = 3
EXPLAINED = 0.8  #: lines of which so many come at the edges of overs add nothing to them
CLOSE, UNSURE = 0.2, 0.25  #: readings that lie nearer together can't be told apart by the traffic
RARE = 0.003  #: shapes of so few of the lines of traffic are not asked for
CHOICES = {"mode": MODES, "side": SIDES, "cause": CAUSES, "reason": REASONS, "slot": ("1", "2")}
ASKED_EVENTS = ("over-start", "over-end", "over", "refused", "link-up", "link-down", "ignore")


@dataclass(frozen=True)
class Question:
    """One thing to ask the keeper."""

    key: str  #: as an answers file names it, such as "mode.7"
    asks: str
    choices: tuple[str, ...]  #: what may be answered; empty where any text may
    guess: str  #: what is taken where nobody answers
    overs: int  #: lines of overs in the sample that hang on it
    examples: tuple[str, ...]
    about: str = ""  #: the field that it settles


def words_asked(sample: Sample, shapes: Sequence[Shape], words: Words) -> Iterator[Question]:
    """What spellings stand for that no word of the trade tells."""
    for (table, value), lines in words.guessed.items():
        means = str(words.tables[table][value].get(table, ""))
        label = MODE_LABELS.get(means, means) or "none"
        asks = f"Which {table} does “{value}” stand for? Guessed: {label}."
        examples = _examples(sample, shapes, table, value)
        yield Question(f"{table}.{value}", asks, (*CHOICES[table], "none"), means or "none", lines, examples, table)


def marks_asked(sample: Sample, made: Understood) -> Iterator[Question]:
    """Which side a mark in the text of lines stands for."""
    if made.sides is None or not made.sides.guessed:
        return
    mark, means = next(iter(made.sides.means.items()))
    shapes = [shape for shape in made.shapes if shape.set.get("side") == means and shape.event in TALK]
    lines = sum(len(shape.rows) for shape in shapes)
    asks = f"Which side does “{mark}” stand for? Guessed: {means}."
    yield Question(f"side.{mark}", asks, (*SIDES, "none"), means, lines, _firsts(sample, shapes[:EXAMPLES]), "side")


def stamps_asked(sample: Sample, overs: int, known: Known) -> Iterator[Question]:
    """The zone of the host's clock, and which of two numbers is the day."""
    if not sample.zone_sure:
        asks = (
            "The stamps have no offset: in which zone is the host's clock (a name such as Europe/London)? Guessed: "
            f"{sample.zone}."
        )
        yield Question("zone", asks, (), sample.zone, overs, tuple(sample.lines[:1]), "zone")
    stamping = sample.stamping
    if stamping and not stamping.sure and stamping.other and known.time is None:
        asks = f"Which is the day and which the month in the stamps? Guessed: {stamping.time}; the other reading is "
        asks += f"{stamping.other}."
        yield Question(
            "time", asks, (stamping.time, stamping.other), stamping.time, overs, tuple(sample.lines[:2]), "stamps"
        )


def lengths_asked(
    sample: Sample, made: Understood, overs: int, known: Known, followed: Mapping[str, int]
) -> Iterator[Question]:
    """`followed` has the columns that tell the time since an ignored line, by shape. The unit of bare lengths, whether
    whole overs are stamped when they began or ended, and which number is the length.
    """
    told = made.told
    timed = [shape for shape in made.shapes if shape.column("duration") and shape.event in TALK]
    if told.unit_margin < CLOSE and timed and known.seconds is None:
        asks = f"In what unit are the durations? Guessed: {told.seconds}. Stamps do not tell."
        choices = tuple(dict.fromkeys((told.seconds, "s", "ms", "frames:20ms", "frames:60ms")))
        rows = timed[0].rows[:EXAMPLES]
        yield Question(
            "seconds", asks, choices, told.seconds, overs, tuple(sample.lines[row] for row in rows), "duration"
        )
    wholes = [shape for shape in timed if shape.event == "over"]
    if told.stamp_margin < UNSURE and wholes and known.stamp is None:
        asks = f"Is a whole over stamped when it began (event) or when it ended (end)? Guessed: {told.stamp}."
        yield Question(
            "stamp", asks, ("event", "end"), told.stamp, overs, _firsts(sample, wholes[:EXAMPLES]), "duration"
        )
    for shape in wholes:
        yield from _which_length(sample, shape, made, known, followed)


def _which_length(
    sample: Sample, shape: Shape, made: Understood, known: Known, followed: Mapping[str, int]
) -> Iterator[Question]:
    """Two numbers could be the length of an over, and nothing says which."""
    taken = shape.column("duration")
    if taken is None or "duration" in known.holes.get(shape.name, {}).values():
        return
    rivals = [
        column
        for place in made.told.rivals
        for owner, column in place.members
        if owner is shape and _as_likely(column, taken)
    ]
    rivals += [column for number, column in enumerate(shape.columns) if number == followed.get(shape.name)]
    if not rivals:
        return
    places = sorted(
        place for place, column in enumerate(shape.columns) if any(column is one for one in (taken, *rivals))
    )
    says = " or ".join(f"{{{place + 1}}} (in the first line {shape.columns[place].values[0]})" for place in places)
    guess = next(place for place in places if shape.columns[place] is taken) + 1
    asks = f"Which number is the length of the over in “{shape.name}”: {says}? Guessed: {{{guess}}}."
    choices = tuple(str(place + 1) for place in places)
    examples = tuple(sample.lines[row] for row in shape.rows[:EXAMPLES])
    yield Question(f"hole.{shape.name}", asks, choices, str(guess), len(shape.rows), examples, "duration")


def _as_likely(column: Column, taken: Column) -> bool:
    """Whether words don't tell the two apart."""
    return column.key == "_" and named("duration", taken) - named("duration", column) < 1


def events_asked(sample: Sample, made: Understood, kept: Sequence[Shape], known: Known) -> Iterator[Question]:
    """Lines with call signs, or in a mode's place, that are left out or whose refusal is a guess."""
    lines = sum(len(shape.rows) for shape in made.roles.talk.shapes)
    edges = _edges(sample, made)
    seen: set[str] = set()
    for kind in made.told.unsure:
        shape = max(kind, key=lambda one: len(one.rows))
        count = sum(len(one.rows) for one in kind)
        if count < max(EXAMPLES, RARE * lines) or any(one.name in known.events for one in kind) or shape.name in seen:
            continue
        seen.add(shape.name)
        if shape.event == "ignore" and _at_edges(sample, kind, edges) >= EXPLAINED:
            continue
        guess = "nothing that counts" if shape.event == "ignore" else shape.event
        asks = f"What do lines such as “{shape.name}” tell? Guessed: {guess}."
        examples = tuple(sample.lines[row] for row in shape.rows[:EXAMPLES])
        about = "refusals" if shape.event == "refused" else "events"
        yield Question(f"event.{shape.name}", asks, ASKED_EVENTS, shape.event, count, examples, about)


def _edges(sample: Sample, made: Understood) -> Floats:
    """When overs begin and end, as far as their lines tell, in seconds."""
    out: list[Floats] = []
    for shape in made.shapes:
        if shape.event in TALK:
            when = sample.us[shape.rows] / SECOND
            column = shape.column("duration")
            lasts, bare = raw_lengths(column) if column is not None else (np.zeros(len(when)), False)
            lasts = lasts * (factor(made.told.seconds) if bare else 1.0)
            out += [when, when + lasts if shape.event == "over" and made.told.stamp == "event" else when - lasts]
    found = np.concatenate(out) if out else np.zeros(0)
    return np.sort(found[np.isfinite(found)])


def _at_edges(sample: Sample, kind: Sequence[Shape], edges: Floats) -> float:
    """The share of lines that come when an over begins or ends, which another line tells."""
    when = np.concatenate([sample.us[shape.rows] / SECOND for shape in kind])
    if not len(edges):
        return 0.0
    after = np.clip(np.searchsorted(edges, when), 0, len(edges) - 1)
    nearest = np.minimum(np.abs(edges[after] - when), np.abs(edges[np.maximum(after - 1, 0)] - when))
    return float((nearest <= CLOSE_S).mean())


def reasons_asked(sample: Sample, made: Understood, known: Known) -> Iterator[Question]:
    """Why refusals happen whose words only hint at it."""
    for shape in made.shapes:
        guessed = (
            shape.event == "refused"
            and shape.set.get("reason")
            and shape.column("reason") is None
            and shape.why_guessed
        )
        if guessed and phrase(shape) not in known.words.get("reason", {}):
            asks = f"Why are callers refused where lines say “{phrase(shape)}”? Guessed: {shape.set['reason']}."
            examples = tuple(sample.lines[row] for row in shape.rows[:EXAMPLES])
            choices = (*REASONS, "none")
            yield Question(
                f"reason.{phrase(shape)}", asks, choices, shape.set["reason"], len(shape.rows), examples, "refusals"
            )


def _firsts(sample: Sample, shapes: Sequence[Shape]) -> tuple[str, ...]:
    return tuple(sample.lines[shape.rows[0]] for shape in shapes)


def _examples(sample: Sample, shapes: Sequence[Shape], table: str, value: str) -> tuple[str, ...]:
    found = []
    for shape in shapes:
        column = shape.column(table)
        if column is not None and value in column.counts:
            found += [sample.lines[row] for row, one in zip(shape.rows, column.values, strict=True) if one == value][
                :EXAMPLES
            ]
    return tuple(found[:EXAMPLES])
