"""Learn a log: sample lines in, dialect and what is sure of it out."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from shared.errors import AirtallyError

from parsers.adopt import questions as asking
from parsers.adopt.envelope import open_sample
from parsers.adopt.events import give_events
from parsers.adopt.fresh import fresh_shapes, give_causes, give_fresh_meanings, nameless
from parsers.adopt.meaning import fixed_meanings, give_meanings, modes_by_place, number, percent_of
from parsers.adopt.model import Known, Sample, Shape
from parsers.adopt.oneline import over_several_lines
from parsers.adopt.shaping import make_shapes, split_odd
from parsers.adopt.sides import air_by_squelch, give_sides
from parsers.adopt.spelling import needed, settle_words
from parsers.adopt.uses import drop_unfit
from parsers.adopt.writing import Entry, Head, entry_of, ordered, text_of, with_samples
from parsers.dialect import Dialect

RECURS, RECURS_SHARE = 8, 0.005  #: lines without an event are ignored for good where so many, and such a share of the log, are alike


class NothingToLearn(AirtallyError):
    """The log holds nothing that a dialect could be made of; the sentence says why."""


@dataclass
class Learnt:
    """A dialect, and how it came about."""

    text: str  #: of the dialect file
    dialect: Dialect
    shapes: list[Shape]
    sample: Sample
    questions: list[asking.Question]
    guessed: list[str]  #: sentences on what is a guess
    sure: list[str]  #: sentences on what is known
    several: str | None = None  #: where one event seems to be written over several lines: a sentence that says so
    doubt: dict[str, float] = field(default_factory=dict)  #: what was guessed -> chance that it is wrong times the share of overs on it


def learn(
    lines: Sequence[str],
    around_us: int,
    *,
    known: Known | None = None,
    zone: str | None = None,
    name: str = "learnt",
    by_evidence: bool = False,
) -> Learnt:
    """A dialect for these lines, by one of two readings. `zone` is the station's. Raises NothingToLearn."""
    known = known or Known()
    sample = open_sample(lines, known, around_us, zone, headless=by_evidence)
    if sample.stamping is None:
        raise NothingToLearn(
            "No line has a stamp with a date and a time of day, so that no instant can be known: see whether the host can write one."
        )
    shapes = [shape for shape in (fresh_shapes if by_evidence else make_shapes)(sample) if shape.rows]
    if not shapes:
        raise NothingToLearn("The log holds no lines that are alike, so that nothing can be learnt from it.")
    roles = None
    if by_evidence:
        roles = give_fresh_meanings(shapes, sample, known)
        side_guessed = False
    else:
        give_meanings(shapes, known)
        shapes = split_odd(shapes)
        for shape in shapes:
            fixed_meanings(shape)
        side_guessed = give_sides(shapes)
    whole = give_events(shapes, sample.us, known) | {"side_guessed": side_guessed}
    air_by_squelch(shapes)
    modes_by_place(shapes)
    if by_evidence:
        give_causes(shapes, sample, known)
    words = settle_words(shapes, known)
    if by_evidence:
        nameless(shapes, words)
    drop_unfit(shapes, sample)
    head = Head(
        name=name,
        time="iso" if sample.envelope == "journal" else "syslog" if sample.envelope == "syslog" else sample.stamping.time,
        zone=sample.zone,
        envelope=sample.envelope,
        stamp=str(whole["stamp"]),
        headed=sample.headed,
        separator=sample.separator if sample.envelope == "csv" else None,
        header=(sample.separator or ",").join(sample.header) if sample.header else None,
        words=needed(words),
        unit=_units(shapes, str(whole["seconds"])),
        fields=_fields(sample, shapes),
    )
    entries = _entries(shapes, sample, head)
    if not entries:
        raise NothingToLearn("No line could be understood: this does not look like the log of a repeater.")
    dialect, entries = with_samples(head, ordered(head, entries, sample, lean=by_evidence), sample, around_us)
    comment = "Learnt by `airtally adopt` from the log itself; whatever is wrong here may be mended by hand."
    text = text_of(head, entries, comment)
    kept = [entry.shape for entry in entries]
    asked, guessed, sure, doubt = asking.review(sample, kept, words, whole, known)
    if roles is not None:
        doubt |= roles.doubts()
        sure += [f"Evidence for {says}." for says in roles.told()]
    return Learnt(text, dialect, kept, sample, asked, guessed, sure, over_several_lines(lines, around_us), doubt)


def _entries(shapes: Sequence[Shape], sample: Sample, head: Head) -> list[Entry]:
    entries = []
    seen: set[str] = set()
    for shape in shapes:
        entry = entry_of(shape, sample, head.time)
        entry.fields = _own_fields(shape, head.fields) if sample.is_table and shape.event != "ignore" else {}
        key = repr((entry.text, entry.pattern, entry.when))
        if key in seen or (entry.text == "" and entry.when is None):
            continue
        if not sample.is_table and entry.event == "ignore" and not (_tells_something(entry) and _recurs(shape, sample)):
            continue
        if _unreadable(shape):
            continue
        seen.add(key)
        entries.append(entry)
    return entries


def _own_fields(shape: Shape, fields: Mapping[str, str]) -> dict[str, str]:
    """What columns mean in one shape where [fields] says something else of them."""
    own = {column.name: column.key for column in shape.columns if column.name and column.key not in ("_", fields.get(column.name))}
    return {name: key for name, key in own.items() if key != fields.get(name)}


def _recurs(shape: Shape, sample: Sample) -> bool:
    """Whether lines of which nothing is known come so often that they are the host's habit. Rarer ones stay unread, for people to see."""
    return len(shape.rows) >= max(RECURS, RECURS_SHARE * len(sample.lines))


def _unreadable(shape: Shape) -> bool:
    """Whether the fixed text holds bytes that are no text: damage, and no shape of the host's."""
    return any(char == "\ufffd" or (ord(char) < 32 and char != "\t") for part in shape.parts if isinstance(part, str) for char in part)


def _tells_something(entry: Entry) -> bool:
    """Whether a template has any fixed word: one of holes alone would swallow every line."""
    return any(not char.isspace() for part in entry.shape.parts if isinstance(part, str) for char in part)


def _units(shapes: Sequence[Shape], seconds: str) -> dict[str, str]:
    """The [unit] table: of durations, and of error and loss rates whether they are fractions."""
    out = {"seconds": seconds} if seconds != "s" else {}
    for key in ("ber_pct", "loss_pct"):
        values = [value for shape in shapes if (column := shape.column(key)) for value in column.counts]
        numbers = [one for value in values if (one := number(value)) is not None]
        signed = any("%" in value for value in values) or any(
            percent_of(column) is not None for shape in shapes if (column := shape.column(key))
        )
        if numbers and not signed and max(numbers) <= 1:
            decimals = max((len(value.replace(",", ".").partition(".")[2]) for value in values), default=0)
            small = [one for one in numbers if one > 0]
            if decimals >= 3 or (small and float(np.median(small)) < 0.03):
                out[key] = "fraction"
    return out


def _fields(sample: Sample, shapes: Sequence[Shape]) -> dict[str, str]:
    """A table's fields: each of our keys goes to the column that has it in most lines."""
    if not sample.is_table:
        return {}
    votes: dict[str, Counter[str]] = defaultdict(Counter)
    for shape in shapes:
        for column in shape.columns:
            if column.key != "_" and column.name:
                votes[column.name][column.key] += sum(bool(value) for value in column.values) * (3 if shape.event.startswith("over") else 1)
    ranked = sorted(((count, name, key) for name, counts in votes.items() for key, count in counts.items()), reverse=True)
    out = {sample.stamp_field or "": "t"}
    for _, name, key in ranked:
        if name not in out and key not in out.values():
            out[name] = key
    return out
