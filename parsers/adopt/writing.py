"""A dialect file from what was learnt: templates in an order in which each line meets its own, and samples that say what it gives."""

import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import polars as pl
from shared.events import IGNORED, UNDERSTOOD
from shared.zones import iso

from parsers.adopt.model import Sample, Shape
from parsers.constants import BLANKS
from parsers.dialect import Dialect, dialect_from_text, reader
from parsers.engine import DialectReader
from parsers.envelopes import unwrap_journal, unwrap_syslog
from parsers.reading import Carry
from parsers.samples import shapes_that_match
from parsers.time_forms import WORD, time_form

MOST_LINES = 150  #: an engine takes 255 shapes, and each costs time
SAMPLES = 2
WORDED = ("mode", "side", "slot", "cause", "reason")
TRIED = 12


@dataclass
class Head:
    """What stands above the lines of a dialect."""

    name: str
    time: str = "iso"
    zone: str = "UTC"
    envelope: str = "none"
    stamp: str = "event"
    headed: bool = True
    separator: str | None = None
    header: str | None = None
    words: Mapping[str, Mapping[str, Mapping[str, Any]]] = field(default_factory=dict)
    unit: Mapping[str, str] = field(default_factory=dict)
    fields: Mapping[str, str] = field(default_factory=dict)


@dataclass
class Entry:
    """One [[line]]."""

    shape: Shape
    event: str
    text: str | None = None
    pattern: str | None = None
    when: Mapping[str, str] | None = None
    set: Mapping[str, Any] = field(default_factory=dict)
    fields: Mapping[str, str] = field(default_factory=dict)
    samples: list[tuple[str, dict[str, Any]]] = field(default_factory=list)


def entry_of(shape: Shape, sample: Sample, time: str, strict: bool = False) -> Entry:
    """The [[line]] of a shape; `strict` as a pattern whose holes take no more words than their values have."""
    keys = {column.key for column in shape.columns}
    constants = {} if shape.event == "ignore" else {k: v for k, v in shape.set.items() if k not in keys}
    if sample.is_table:
        return Entry(shape, shape.event, when=shape.when, set=constants)
    parts = _holes(shape)
    literal = "".join(part for part in parts if not _is_hole(part))
    adjacent = any(_is_hole(a) and _is_hole(b) for a, b in pairwise(parts))
    tail = sample.stamping.tail if sample.stamping else 0
    strict = strict or _runs_on(shape)
    if strict or "{" in literal or "}" in literal or adjacent or tail:
        return Entry(shape, shape.event, pattern=_pattern(parts, time, tail, _single(shape) if strict else {}), set=constants)
    return Entry(shape, shape.event, text="".join(parts).strip(), set=constants)


def _holes(shape: Shape) -> list[str]:
    """The parts of a shape with its columns as holes; a unit that stands behind a duration goes into the hole, which understands it."""
    out: list[str] = []
    taken: set[str] = set()
    for place, part in enumerate(shape.parts):
        if isinstance(part, str):
            before = shape.parts[place - 1] if place else None
            if isinstance(before, int) and before >= 0 and shape.columns[before].key == "duration" and shape.event != "ignore":
                part = re.sub(r"^ ?(?:s|ms)\b", "", part)
            if part:
                out.append(part)
        elif part == -1:
            out.append("{t}" if "t" not in taken else "{_}")
            taken.add("t")
        else:
            key = shape.columns[part].key if shape.event != "ignore" else "_"
            out.append("{" + (key if key not in taken else "_") + "}")
            taken.add(key if key != "_" else "")
    return out


def _is_hole(part: str) -> bool:
    return part.startswith("{") and part.endswith("}") and re.fullmatch(r"\{\w+\}", part) is not None


def _runs_on(shape: Shape) -> bool:
    """Whether a template's hole would end too early: a value has a blank in it, and a blank comes after the hole."""
    for part, after in pairwise(shape.parts):
        worded = isinstance(part, int) and part >= 0 and shape.columns[part].key in WORDED
        if worded and isinstance(after, str) and after[:1] == " " and any(" " in value for value in shape.columns[int(part)].counts):
            return True
    return False


def _single(shape: Shape) -> dict[int, str]:
    """For the places of the parts that are columns whose values never hold a blank: what they do hold; a digit, where each has one."""
    out: dict[int, str] = {}
    place = -1
    for at, part in enumerate(shape.parts):
        if isinstance(part, str):
            before = shape.parts[at - 1] if at else None
            if isinstance(before, int) and before >= 0 and shape.columns[before].key == "duration" and shape.event != "ignore":
                part = re.sub(r"^ ?(?:s|ms)\b", "", part)
                if part != shape.parts[at]:
                    out.pop(place, None)
            place += bool(part)
            continue
        place += 1
        values = shape.columns[part].counts if part >= 0 else {}
        if (
            values
            and part >= 0
            and shape.columns[part].key in WORDED
            and len(values) <= 24
            and (shape.columns[part].key == "slot" or any(" " in value for value in values))
        ):
            out[place] = "(?:" + "|".join(re.escape(value).replace("\\ ", "[ \\t]+").replace("'", "\\x27") for value in values) + ")"
        elif values and not any(" " in value or "\t" in value for value in values):
            numbered = all(any(char.isdigit() for char in value) for value in values)
            marks = "".join(re.escape(mark) for mark in ',;:=|()[]<>"' if not any(mark in value for value in values))
            some = rf"[^ \t{marks}]*"
            out[place] = f"{some}[0-9]{some}" if numbered else some
    return out


def _pattern(parts: Sequence[str], time: str, tail: int, single: Mapping[int, str]) -> str:
    out = "^"
    for place, part in enumerate(parts):
        if part == "{t}":
            stamp = r"[0-9]{13}" if tail else time_form(time).words.replace(WORD, r"[^ \t]+?")
            out += f"(?P<t>{stamp})" + (rf"[0-9]{{{tail}}}" if tail else "")
        elif _is_hole(part):
            last = place == len(parts) - 1
            any_text = single.get(place) or (".*" if last else ".*?")
            out += (f"(?P<{part[1:-1]}>" if part != "{_}" else "(?:") + any_text + ")"
        else:
            out += r"[ \t]+".join(re.escape(word).replace("'", "\\x27").replace("/", "/") for word in re.split(r"[ \t]+", part))
    return out + "$"


def text_of(head: Head, entries: Sequence[Entry], comment: str) -> str:
    """The dialect as TOML."""
    out = [f"# {line}" for line in comment.splitlines()]
    out += [
        "[dialect]",
        f"name = {_toml(head.name)}",
        f"time = {_toml(head.time)}",
        f"zone = {_toml(head.zone)}",
        f"envelope = {_toml(head.envelope)}",
    ]
    if head.stamp != "event":
        out.append(f"stamp = {_toml(head.stamp)}")
    if head.envelope == "csv":
        out += [f"separator = {_toml(head.separator)}", f"header = {_toml(head.header)}"]
        out += [] if head.headed else ["headed = false"]
    for table, words in head.words.items():
        out += ["", f"[words.{table}]"]
        out += [means_text(table, word, means) for word, means in words.items()]
    if head.unit:
        out += ["", "[unit]", *(f"{key} = {_toml(value)}" for key, value in head.unit.items())]
    if head.fields:
        out += ["", "[fields]", *(f"{_toml(theirs)} = {_toml(ours)}" for theirs, ours in head.fields.items())]
    for entry in entries:
        out += ["", "[[line]]", *line_text(entry)]
    return "\n".join(out) + "\n"


def line_text(entry: Entry) -> list[str]:
    """The rows of one [[line]], without its heading."""
    out = [f"event = {_toml(entry.event)}"]
    if entry.text is not None:
        out.append(f"text = {_toml(entry.text)}")
    if entry.pattern is not None:
        out.append(f"pattern = '{entry.pattern}'")
    if entry.when is not None:
        out.append(f"when = {_inline(entry.when)}")
    if entry.set:
        out.append(f"set = {_inline(entry.set)}")
    if entry.fields:
        out.append(f"fields = {_inline(entry.fields)}")
    for text, gives in entry.samples:
        out += ["[[line.sample]]", f"text = {_toml(text)}", f"gives = {_inline(gives)}"]
    return out


def means_text(table: str, word: str, means: Mapping[str, Any]) -> str:
    """One row of a [words] table."""
    return f"{_toml(word)} = {_means(table, means)}"


def _means(table: str, means: Mapping[str, Any]) -> str:
    return _toml(means[table]) if list(means) == [table] else _inline(means)


def _inline(values: Mapping[str, Any]) -> str:
    if not values:
        return "{}"
    return (
        "{ "
        + ", ".join(f"{key if re.fullmatch(r'[A-Za-z0-9_-]+', key) else _toml(key)} = {_toml(value)}" for key, value in values.items())
        + " }"
    )


def _toml(value: Any) -> str:
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return json.dumps(value)


def ordered(head: Head, entries: list[Entry], sample: Sample, lean: bool = False) -> list[Entry]:
    """The lines such that each of a shape's own lines meets its shape first: narrower ones before wider ones. Shapes whose every line an
    other one takes as well as they would are left out. A template that takes others' lines becomes a pattern; where `lean`, only one whose
    own lines those others take too, as an order settles the rest."""
    if sample.is_table:
        return entries[:MOST_LINES]
    bodies = [_bodies(entry, sample) for entry in entries]
    n = len(entries)
    takes = _takes(head, entries, bodies)
    greedy = [i for i in range(n) if any(takes[i][j] and (takes[j][i] or not lean) for j in range(n) if j != i)]
    if greedy:
        entries = [entry_of(entry.shape, sample, head.time, strict=True) if i in set(greedy) else entry for i, entry in enumerate(entries)]
        takes = _takes(head, entries, bodies)
    width = [len("".join(part for part in entry.shape.parts if isinstance(part, str))) if lean else _literals(entry) for entry in entries]
    order = sorted(range(n), key=lambda i: (-width[i], -len(entries[i].shape.rows)))
    placed: list[int] = []
    left = list(order)
    while left:
        # The narrowest whose lines nothing that is left takes, unless it takes theirs in turn.
        free = next(
            (i for i in left if not any(takes[j][i] < takes[i][j] and takes[i][j] > 0 and takes[j][i] == 0 for j in left if j != i)),
            left[0],
        )
        left.remove(free)
        if not takes[free][free]:
            continue
        if any(takes[i][free] == 1 and entries[i].event == entries[free].event for i in placed):
            continue
        placed.append(free)
    placed = [
        i
        for n, i in enumerate(placed)
        if not any(takes[j][i] == 1 and _says_as_much(entries[j], entries[i], lean) for j in placed[n + 1 :])
    ]
    talk = [i for i in placed if entries[i].event != "ignore"]
    quiet = [i for i in placed if entries[i].event == "ignore"]
    quiet = sorted(quiet, key=lambda i: -len(entries[i].shape.rows))[: max(0, MOST_LINES - len(talk))]
    keep = set(talk[:MOST_LINES]) | set(quiet)
    return [entries[i] for i in placed if i in keep]


def _literals(entry: Entry) -> int:
    return len(re.sub(r"\{\w+\}|\(\?.*?\)", "", entry.text or entry.pattern or ""))


def _says_as_much(wide: Entry, narrow: Entry, lean: bool) -> bool:
    """Whether a wider line, put in a narrower one's place, would tell the same and no more."""
    if wide.event != narrow.event:
        return False
    if wide.event == "ignore" or lean:  # of two that tell something the wider one would take marks into its values
        return wide.event == "ignore"
    mine, theirs = {c.key for c in narrow.shape.columns} - {"_"}, {c.key for c in wide.shape.columns} - {"_"}
    dash = any(isinstance(part, str) and re.search(r"(?<![^ ,;|:=])-(?![^ ,;|:=])", part) for part in narrow.shape.parts)
    more = theirs - mine - {"target", "network"} - set(narrow.set) - ({"station"} if dash else set())  # a dash names nobody anyway
    return mine <= theirs and not more and all(wide.set.get(key) == value for key, value in narrow.set.items() if key not in theirs)


def _takes(head: Head, entries: Sequence[Entry], bodies: Sequence[Sequence[str]]) -> list[list[float]]:
    """For each line the share of the others' texts that it would take."""
    dialect = dialect_from_text(text_of(head, entries, ""), Path("learnt"))
    expressions = [re.compile(shape.exact) for shape in dialect.shapes]
    return [[sum(bool(one.search(body)) for body in texts) / max(1, len(texts)) for texts in bodies] for one in expressions]


def _bodies(entry: Entry, sample: Sample) -> list[str]:
    rows = entry.shape.rows
    picked = rows[:: max(1, len(rows) // 5)][:6]
    return [re.sub(r"[ \t]+", " ", (sample.texts[row] or "").strip(BLANKS)) for row in picked]


def with_samples(head: Head, entries: list[Entry], sample: Sample, around_us: int) -> tuple[Dialect, list[Entry]]:
    """The dialect, each line with samples from the log, and what they give as the dialect itself reads them. A line none of whose rows only
    it can take is left out."""
    dialect = dialect_from_text(text_of(head, entries, ""), Path("learnt"))
    reads = reader(dialect)
    kept = []
    for place, entry in enumerate(entries):
        rows = entry.shape.rows
        second: list[tuple[str, dict[str, Any]]] = []  # rows that a line further down would take too
        for row in [*rows[:: max(1, len(rows) // TRIED)][:TRIED], rows[-1]]:
            if len(entry.samples) >= (SAMPLES if entry.event != "ignore" else 1):
                break
            text = sample.lines[row]
            fits = shapes_that_match(dialect, reads, text)
            if not fits[place] or any(fits[:place]) or any(text == one for one, _ in entry.samples):
                continue
            gives = gives_of(reads, sample, text, around_us)
            if gives is not None and (gives["event"] == entry.event):
                (entry.samples if sum(fits) == 1 else second).append((text, gives))
        entry.samples = entry.samples or second[:1]
        if entry.samples:
            kept.append(entry)
    return dialect_from_text(text_of(head, kept, ""), Path("learnt")), kept


def gives_of(reads: DialectReader, sample: Sample, text: str, around_us: int) -> dict[str, Any] | None:
    """What a dialect makes of one line, as a sample's `gives`; None where it doesn't read it."""
    read = reads.read(pl.Series([text]), Carry(header=sample.header), around_us)
    if read.verdicts[0] == IGNORED:
        return {"event": "ignore"}
    if read.verdicts[0] != UNDERSTOOD:
        return None
    event = {k: v for k, v in read.events.row(0, named=True).items() if v is not None and k not in ("line", "t")}
    dated = "%Y" in (sample.stamping.time if sample.stamping else "") or (
        sample.stamping and sample.stamping.time in ("iso", "epoch", "epoch-ms")
    )
    if dated and sample.envelope not in ("syslog",):
        event = {"t": iso(int(read.events["t"][0])), **event}
    return event


def unwrapped(dialect: Dialect, lines: pl.Series) -> pl.Series:
    """Lines without a text envelope, null where they have none."""
    envelope = dialect.file.dialect.envelope
    if envelope in ("syslog", "journal"):
        return (unwrap_syslog if envelope == "syslog" else unwrap_journal)(lines).text
    return lines


def parsed(text: str) -> dict[str, Any]:
    """A dialect's text as values."""
    return tomllib.loads(text)
