"""A dialect file from what was learnt: templates in an order in which each line meets its own, and samples that say
what it gives.
"""

import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import polars as pl

from parsers.adopt.lines import Entry
from parsers.adopt.model import Sample
from parsers.dialect import Dialect, dialect_from_text, reader
from parsers.engine import DialectReader
from parsers.envelopes import unwrap_journal, unwrap_syslog
from parsers.reading import Carry
from parsers.samples import shapes_that_match
from shared.events import IGNORED, UNDERSTOOD
from shared.zones import iso

SAMPLES = 2
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
        + ", ".join(
            f"{key if re.fullmatch(r'[A-Za-z0-9_-]+', key) else _toml(key)} = {_toml(value)}"
            for key, value in values.items()
        )
        + " }"
    )


def _toml(value: Any) -> str:
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return json.dumps(value)


def with_samples(head: Head, entries: list[Entry], sample: Sample, around_us: int) -> tuple[Dialect, list[Entry]]:
    """The dialect, each line with samples from the log, and what they give as the dialect itself reads them. A line
    none of whose rows only
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
