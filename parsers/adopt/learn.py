"""Learn a log: sample lines in, dialect and what is sure of it out."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from parsers.adopt.doubt import review
from parsers.adopt.envelope import open_sample
from parsers.adopt.front import shapes_of
from parsers.adopt.lines import Entry, entry_of
from parsers.adopt.model import Column, Known, Sample, Shape
from parsers.adopt.naming import number, percent_of
from parsers.adopt.oneline import over_several_lines
from parsers.adopt.ordering import ordered
from parsers.adopt.questions import Question
from parsers.adopt.understand import Understood, understand
from parsers.adopt.words import needed
from parsers.adopt.writing import Head, text_of, with_samples
from parsers.dialect import Dialect
from shared.errors import AirtallyError

RECURS, RECURS_SHARE = (
    8,
    0.005,
)  #: lines without an event are ignored for good where so many, and such a share of the log, are alike
SMALL = 0.03  #: error rates that lie so low in the middle are fractions
COMMENT = "Learnt by `airtally adopt` from the log itself; whatever is wrong here may be mended by hand."


class NothingToLearn(AirtallyError):
    """The log holds nothing that a dialect could be made of; the sentence says why."""


@dataclass
class Learnt:
    """A dialect, and how it came about."""

    text: str  #: of the dialect file
    dialect: Dialect
    shapes: list[Shape]
    sample: Sample
    questions: list[Question]
    guessed: list[str]  #: sentences on what is a guess
    sure: list[str]  #: sentences on what is known
    several: str | None = None  #: where one event seems to be written over several lines: a sentence that says so
    doubt: dict[str, float] = field(
        default_factory=dict
    )  #: what was guessed -> chance that it is wrong times the share of overs on it


def learn(
    lines: Sequence[str], around_us: int, *, known: Known | None = None, zone: str | None = None, name: str = "learnt"
) -> Learnt:
    """A dialect for these lines. `zone` is the station's. Raises NothingToLearn."""
    known = known or Known()
    sample = open_sample(lines, known, around_us, zone)
    if sample.stamping is None:
        raise NothingToLearn(
            "No line has a stamp with a time of day, so that no instant can be known: see whether the host can "
            "write one."
        )
    shapes = [shape for shape in shapes_of(sample) if shape.rows]
    if not shapes:
        raise NothingToLearn("The log holds no lines that are alike, so that nothing can be learnt from it.")
    made = understand(shapes, sample, known)
    if not made.roles.talk.shapes and all(shape.event == "ignore" for shape in shapes):
        raise NothingToLearn(
            "No line could be understood: none names a mode, a call sign or a radio id, so that this does not look "
            "like the log of a repeater."
        )
    head = _head(made, sample, name)
    entries = _entries(shapes, sample, head)
    if not entries:
        raise NothingToLearn("No line could be understood: this does not look like the log of a repeater.")
    dialect, entries = with_samples(head, ordered(head, entries, sample), sample, around_us)
    kept = [entry.shape for entry in entries]
    seen = review(sample, kept, made, known)
    text = text_of(head, entries, COMMENT)
    several = over_several_lines(lines, around_us)
    return Learnt(text, dialect, kept, sample, seen.questions, seen.guessed, seen.sure, several, seen.doubt)


def _head(made: Understood, sample: Sample, name: str) -> Head:
    assert sample.stamping is not None
    named = {"journal": "iso", "syslog": "syslog"}
    return Head(
        name=name,
        time=named.get(sample.envelope, sample.stamping.time),
        zone=sample.zone,
        envelope=sample.envelope,
        stamp=made.told.stamp,
        headed=sample.headed,
        separator=sample.separator if sample.envelope == "csv" else None,
        header=(sample.separator or ",").join(sample.header) if sample.header else None,
        words=needed(made.words),
        unit=_units(made.shapes, made.told.seconds),
        fields=_fields(sample, made.shapes),
    )


def _entries(shapes: Sequence[Shape], sample: Sample, head: Head) -> list[Entry]:
    entries = []
    seen: set[str] = set()
    for shape in shapes:
        rare = not sample.is_table and shape.event == "ignore" and not _recurs(shape, sample)
        if rare or _unreadable(shape):
            continue
        entry = entry_of(shape, sample, head.time)
        entry.fields = _own_fields(shape, head.fields) if sample.is_table and shape.event != "ignore" else {}
        key = repr((entry.text, entry.pattern, entry.when))
        habit = sample.is_table or entry.event != "ignore" or _tells_something(entry)
        if habit and key not in seen and (entry.text != "" or entry.when is not None):
            seen.add(key)
            entries.append(entry)
    return entries


def _own_fields(shape: Shape, fields: Mapping[str, str]) -> dict[str, str]:
    """What columns mean in one shape where [fields] says something else of them."""
    own = {column.name: column.key for column in shape.columns if column.name and column.key != "_"}
    return {name: key for name, key in own.items() if key != fields.get(name)}


def _recurs(shape: Shape, sample: Sample) -> bool:
    """Whether lines of which nothing is known come so often that they are the host's habit. Rarer ones stay unread,
    for people to see.
    """
    return len(shape.rows) >= max(RECURS, RECURS_SHARE * len(sample.lines))


def _unreadable(shape: Shape) -> bool:
    """Whether the fixed text holds bytes that are no text: damage, and no shape of the host's."""
    return any(
        char == "\ufffd" or (ord(char) < 32 and char != "\t")
        for part in shape.parts
        if isinstance(part, str)
        for char in part
    )


def _tells_something(entry: Entry) -> bool:
    """Whether a template has any fixed word: one of holes alone would swallow every line."""
    return any(not char.isspace() for part in entry.shape.parts if isinstance(part, str) for char in part)


def _units(shapes: Sequence[Shape], seconds: str) -> dict[str, str]:
    """The [unit] table: of durations, and of error and loss rates whether they are fractions."""
    out = {"seconds": seconds} if seconds != "s" else {}
    for key in ("ber_pct", "loss_pct"):
        if _fractions([column for shape in shapes if (column := shape.column(key))]):
            out[key] = "fraction"
    return out


def _fractions(columns: Sequence[Column]) -> bool:
    """Whether rates are fractions of 1: no sign of per cent, none above 1, and small or of many decimals."""
    values = [value for column in columns for value in column.counts]
    numbers = [one for value in values if (one := number(value)) is not None]
    signed = any("%" in value for value in values) or any(percent_of(column) is not None for column in columns)
    if not numbers or signed or max(numbers) > 1:
        return False
    decimals = max(len(value.replace(",", ".").partition(".")[2]) for value in values)
    small = [one for one in numbers if one > 0]
    return decimals >= 3 or (bool(small) and float(np.median(small)) < SMALL)


def _fields(sample: Sample, shapes: Sequence[Shape]) -> dict[str, str]:
    """A table's fields: each of our keys goes to the column that has it in most lines."""
    if not sample.is_table:
        return {}
    votes: dict[tuple[str, str], int] = defaultdict(int)
    useful = [shape for shape in shapes if shape.event != "ignore"]
    seen = {(column.name, column.key) for shape in useful for column in shape.columns}
    keys = Counter(name for name, _ in seen)
    for shape in useful:
        for column in shape.columns:
            if column.key != "_" and column.name and keys[column.name] == 1:  # else each line says what it means there
                votes[column.name, column.key] += sum(map(bool, column.values)) * (
                    3 if shape.event.startswith("over") else 1
                )
    out = {sample.stamp_field or "": "t"}
    for (name, key), _ in Counter(votes).most_common():
        if name not in out and key not in out.values():
            out[name] = key
    return out
