"""New shapes in a log whose dialect is known: the host was upgraded, or wrote for the first time what it seldom
writes. Lines that the dialect
left unread become proposals of further [[line]]s and words, which go to the end of its file."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import polars as pl

from parsers.adopt import trade, vocabulary
from parsers.adopt.envelope import flat_object
from parsers.adopt.front import shapes_of
from parsers.adopt.lines import Entry, entry_of
from parsers.adopt.model import Known, Sample, Shape
from parsers.adopt.stampfind import Stamping, spelling_of
from parsers.adopt.understand import understand
from parsers.adopt.words import needed
from parsers.adopt.writing import gives_of, line_text, means_text, unwrapped
from parsers.constants import BLANKS
from parsers.dialect import TABLES, Dialect, dialect_from_text, reader
from parsers.jsonlines import load_object
from parsers.reading import Carry
from parsers.samples import shapes_that_match
from parsers.shapes import compile_pattern, compile_template
from parsers.tables import cells
from parsers.time_forms import time_form
from shared.errors import DialectError
from shared.events import UNREAD

LEAST = 5  #: so many lines alike are a shape worth proposing
MOST = 12
LEARNT_FROM = 3000


@dataclass(frozen=True)
class Proposal:
    """Something to add to a dialect: a [[line]], or words."""

    event: str
    shape: str  #: as people see it
    toml: str  #: what goes to the end of the file; of words, what goes into their table
    lines: int  #: unread lines that it would read
    examples: tuple[str, ...]
    words: dict[str, dict[str, dict[str, Any]]] = field(default_factory=dict)
    sure: bool = True


def propose(
    text: str, dialect: Dialect, unread: Sequence[str], around_us: int, header: tuple[str, ...] | None = None
) -> list[Proposal]:
    """What would read the unread lines of a log, the most lines first. `text` is the dialect's file."""
    lines = list(unread)[-LEARNT_FROM:]
    words = _new_words(dialect, lines)
    if words is not None:
        text, dialect = _grown(text, dialect, words), dialect_from_text(_grown(text, dialect, words), dialect.path)
        lines = still_unread(dialect, lines, around_us, header)
    out = [words] if words is not None else []
    sample = _sample(dialect, lines, around_us, header)
    shapes = [shape for shape in shapes_of(sample) if len(shape.rows) >= LEAST]
    if not shapes:
        return out
    known = _known(dialect)
    made = understand(shapes, sample, known)
    _as_before(shapes, dialect)
    fresh = {
        table: {word: means for word, means in found.items() if word not in known.words.get(table, {})}
        for table, found in needed(made.words).items()
    }
    for shape in sorted(shapes, key=lambda one: -len(one.rows)):
        proposal = _proposal(text, dialect, sample, shape, fresh, around_us)
        if proposal is not None:
            out.append(proposal)
            text = with_proposal(text, dialect, proposal)
            dialect = dialect_from_text(text, dialect.path)
    return sorted(out, key=lambda one: (one.event != "words", -one.lines))[:MOST]


def with_proposal(text: str, dialect: Dialect, proposal: Proposal) -> str:
    """The dialect's file with a proposal in it. Raises DialectError where the two do not fit."""
    grown = _grown(text, dialect, proposal)
    dialect_from_text(grown, dialect.path)
    return grown


def still_unread(dialect: Dialect, lines: Sequence[str], around_us: int, header: tuple[str, ...] | None) -> list[str]:
    """The lines that a dialect does not read."""
    if not lines:
        return []
    read = reader(dialect).read(pl.Series(lines, dtype=pl.String), Carry(header=header), around_us)
    return [line for line, verdict in zip(lines, read.verdicts, strict=True) if verdict == UNREAD]


def _grown(text: str, dialect: Dialect, proposal: Proposal) -> str:
    for table, words in proposal.words.items():
        rows = "\n".join(means_text(table, word, means) for word, means in words.items())
        heading = re.search(rf"(?m)^[ \t]*\[[ \t]*words[ \t]*\.[ \t]*{table}[ \t]*\][^\n]*$", text)
        if heading:
            text = f"{text[: heading.end()]}\n{rows}{text[heading.end() :]}"
        else:
            first = re.search(r"(?m)^[ \t]*\[\[[ \t]*line[ \t]*\]\]", text)
            at = first.start() if first else len(text)
            text = f"{text[:at]}[words.{table}]\n{rows}\n\n{text[at:]}"
    return text.rstrip("\n") + f"\n\n{proposal.toml}\n" if proposal.toml else text


def _known(dialect: Dialect) -> Known:
    file = dialect.file
    words = {str(table): {word: means for word, means in found.items()} for table, found in file.words.items()}
    stamp = "end" if file.dialect.stamp == "end" else "event"
    return Known(zone=file.dialect.zone, time=file.dialect.time, seconds=file.unit.seconds, stamp=stamp, words=words)


def _sample(dialect: Dialect, lines: Sequence[str], around_us: int, header: tuple[str, ...] | None) -> Sample:
    """Unread lines, opened as the dialect opens them."""
    head = dialect.file.dialect
    table = head.envelope in TABLES
    series = pl.Series(lines, dtype=pl.String)
    texts: list[str | None] = (
        [None] * len(lines) if table else [one and one.strip(BLANKS) for one in unwrapped(dialect, series).to_list()]
    )
    records: list[dict[str, str] | None] = [None] * len(lines)
    if head.envelope == "json":
        records = [flat_object(load_object(line)) for line in lines]
    elif head.envelope == "csv":
        names = header or tuple(cells(head.header or "", head.separator) or ())
        for at, line in enumerate(lines):
            found = cells(line, head.separator)
            records[at] = dict(zip(names, found, strict=True)) if found and len(found) == len(names) else None
    sample = Sample(lines, head.envelope, texts, records, header, head.separator if head.envelope == "csv" else None)
    sample.stamping = Stamping(head.time, "" if head.envelope in ("syslog", "journal") else spelling_of(head.time))
    sample.stamp_field = next((theirs for theirs, ours in dialect.fields.items() if ours == "t"), None)
    read = reader(dialect).read(series, Carry(around_us, header), around_us)
    sample.us = read.stamps
    sample.stamped = np.ones(len(lines), dtype=np.bool_)
    return sample


def _new_words(dialect: Dialect, lines: Sequence[str]) -> Proposal | None:
    """Spellings that shapes of the dialect meet and its words do not know."""
    if dialect.file.dialect.envelope in TABLES:
        return None
    bodies = unwrapped(dialect, pl.Series(lines, dtype=pl.String)).to_list()
    found: dict[str, dict[str, dict[str, Any]]] = {}
    hits: list[str] = []
    known = {str(table): set(words) for table, words in dialect.file.words.items()}
    for shape in dialect.shapes:
        expression = re.compile(shape.exact)
        for line, body in zip(lines, bodies, strict=True):
            match = expression.search((body or "").strip(BLANKS))
            for table, value, means in _unknown(match, known) if match else ():
                found.setdefault(table, {})[value] = means
                hits.append(line)
    if not found:
        return None
    says = "; ".join(f"{table}: " + ", ".join(words) for table, words in found.items())
    sure = all(_plainly(table, word) for table, words in found.items() for word in words)
    return Proposal("words", says, "", len(hits), tuple(dict.fromkeys(hits))[:3], found, sure=sure)


def _unknown(match: re.Match[str], known: Mapping[str, set[str]]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Spellings in one line that are not known: table, spelling, and what it may mean."""
    for table in ("mode", "side", "slot", "cause", "reason"):
        value = (match.groupdict().get(table) or "").strip()
        means = _guess(table, value) if value and value not in known.get(table, set()) else None
        if means is not None:
            yield table, value, means


def _plainly(table: str, word: str) -> bool:
    return table != "mode" or trade.mode_of(word) is not None


def _guess(table: str, value: str) -> dict[str, Any] | None:
    if table == "mode":
        means = trade.mode_of(value) or trade.mode_hint(value)
        return None if means == {"mode": value.lower()} else means
    if table == "side":
        side = trade.side_of(value)
        return {"side": side} if side and side != value.lower() else None
    if table == "slot":
        slot = trade.slot_of(value)
        return None if value in ("1", "2") else {"slot": slot} if slot else {}
    meaning = trade.cause_of(value) if table == "cause" else trade.reason_of(value)
    return {table: meaning} if meaning else {}


def _as_before(shapes: Sequence[Shape], dialect: Dialect) -> None:
    """What the dialect already has settles what a new shape can be: where overs have starts, a line with a duration
    ends one.
    """
    has = {line.event for line in dialect.file.line}
    starts, lengths = (any(one.event == "over-start" for one in shapes), any(one.column("duration") for one in shapes))
    for shape in shapes:
        if shape.event == "over" and "over-start" in has and "over" not in has:
            shape.event = "over-end"
        elif (
            shape.event == "over-end"
            and "over" in has
            and "over-start" not in has
            and shape.column("duration")
            and not starts
        ):
            shape.event = "over"
        elif (
            shape.event in ("ignore", "refused")
            and "over-end" in has
            and not lengths
            and not starts
            and _names_a_talker(shape)
        ):
            words = " ".join(shape.words)
            if trade.says(vocabulary.START, words) > trade.says(vocabulary.END, words) and not trade.says(
                vocabulary.REFUSED, words
            ):
                shape.event = "over-start"


def _names_a_talker(shape: Shape) -> bool:
    return shape.column("station") is not None or shape.column("mode") is not None or "mode" in shape.set


def _proposal(
    text: str,
    dialect: Dialect,
    sample: Sample,
    shape: Shape,
    fresh: dict[str, dict[str, dict[str, Any]]],
    around_us: int,
) -> Proposal | None:
    """A shape as a [[line]] with a sample, where the dialect then reads its lines."""
    uses = {column.key: set(column.counts) for column in shape.columns}
    words = {t: {w: m for w, m in found.items() if w in uses.get(t, set())} for t, found in fresh.items()}
    words = {table: found for table, found in words.items() if found} if shape.event != "ignore" else {}
    entry: Entry = entry_of(shape, sample, dialect.file.dialect.time)
    if not sample.is_table and _takes_others(entry, shape, sample, dialect):
        entry = entry_of(shape, sample, dialect.file.dialect.time, strict=True)
    rows = "\n".join(["[[line]]", *line_text(entry)])
    bare = Proposal(
        shape.event,
        shape.name,
        rows,
        len(shape.rows),
        tuple(sample.lines[row] for row in shape.rows[:3]),
        words,
        shape.sure,
    )
    try:
        grown = dialect_from_text(_grown(text, dialect, bare), dialect.path)
    except DialectError:
        return None
    reads = reader(grown)
    for row in shape.rows[:12]:
        line = sample.lines[row]
        fits = shapes_that_match(grown, reads, line)
        gives = gives_of(reads, sample, line, around_us) if sum(fits) == 1 and fits[-1] else None
        if gives is not None and gives["event"] == shape.event:
            entry.samples.append((line, gives))
            break
    if not entry.samples:
        return None
    left = still_unread(grown, [sample.lines[row] for row in shape.rows], around_us, sample.header)
    rows = "\n".join(["[[line]]", *line_text(entry)])
    return Proposal(shape.event, shape.name, rows, len(shape.rows) - len(left), bare.examples, words, shape.sure)


def _takes_others(entry: Entry, shape: Shape, sample: Sample, dialect: Dialect) -> bool:
    """Whether a line would take unread lines of other shapes, or lines that the dialect reads already."""
    form = time_form(dialect.file.dialect.time)
    made = (
        compile_template(entry.text, form, entry.event)
        if entry.text
        else compile_pattern(entry.pattern or "", entry.event)
    )
    expression, own = re.compile(made.exact), set(shape.rows)
    samples = pl.Series([one.text for line in dialect.file.line for one in line.sample], dtype=pl.String)
    others = [text for row, text in enumerate(sample.texts) if row not in own] + unwrapped(dialect, samples).to_list()
    return any(expression.search((text or "").strip(BLANKS)) for text in others)


def clustered(proposals: Sequence[Proposal], unread: int) -> bool:
    """Whether unread lines are of a few new shapes rather than rubbish of every kind."""
    return sum(proposal.lines for proposal in proposals) >= 0.5 * unread if unread else False
