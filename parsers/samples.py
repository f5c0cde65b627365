"""A dialect's own samples: each must yield just what it says it gives, and by its own shape."""

import json
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl

from parsers.constants import BLANKS, IGNORE
from parsers.dialect import TABLES, Dialect, header_names, reader
from parsers.dialect_file import Line, Sample
from parsers.engine import DialectReader
from parsers.envelopes import unwrap_journal, unwrap_syslog
from parsers.jsonlines import read_objects
from parsers.reading import Carry
from parsers.shapes import matches
from parsers.stamps import INSTANT, read_stamps
from parsers.tables import read_csv
from parsers.time_forms import NAMED
from shared.events import IGNORED, UNREAD

AROUND_US = 1_767_225_600_000_000  # 2026-01-01: the year of samples whose stamps have none


@dataclass(frozen=True)
class Problem:
    """Something to mend in a dialect file; a warning where it may be meant."""

    line: int  #: of the dialect file
    says: str
    warning: bool = False


def check_samples(dialect: Dialect) -> list[Problem]:
    """Runs the samples of a dialect, in the order of its lines. Samples of a csv dialect stand under the `header` of
    its [dialect].
    """
    if missing := _missing_columns(dialect):
        at = dialect.places.line_of(("dialect", "header"))
        return [Problem(at, f"header must be the host's header line, for the samples; it lacks {', '.join(missing)}")]
    problems = []
    for i, line in enumerate(dialect.file.line):
        if not line.sample and line.event != IGNORE:
            problems.append(
                Problem(dialect.places.line_of(("line", i)), "this line has no sample; add one as the host writes it")
            )
        for k, sample in enumerate(line.sample):
            at = dialect.places.line_of(("line", i, "sample", k, "text"))
            problems += [Problem(at, says, warning) for says, warning in _sample(dialect, i, line, sample)]
    return problems


def _missing_columns(dialect: Dialect) -> list[str]:
    """Columns of a csv dialect that its header lacks."""
    if dialect.file.dialect.envelope != "csv":
        return []
    names = header_names(dialect.file)
    return [name for name in reader(dialect).wanted if name not in names]


def _differences(event: dict[str, Any], wanted: dict[str, Any], t: object, us: int) -> list[str]:
    """In what an event is not what its sample gives; `t` is None, or what it gives as the instant `us`."""
    differences = []
    if t is not None and event["t"] != us:
        differences.append(f"gives t = {t}, but the line was read as {np.datetime64(event['t'], 'us')}Z")
    got = {key: value for key, value in event.items() if value is not None and key not in ("line", "t")}
    for key in sorted({*got, *wanted}):
        if not _same(got.get(key), wanted.get(key)):
            gives, was = _shown(wanted.get(key)), _shown(got.get(key))
            differences.append(f"gives {key} = {gives}, but the line was read as {key} = {was}")
    return differences


def _sample(dialect: Dialect, i: int, line: Line, sample: Sample) -> list[tuple[str, bool]]:
    """What is wrong with a sample, each with whether it is a warning only."""
    reads = reader(dialect)
    taken_by = [k for k, fits in enumerate(shapes_that_match(dialect, reads, sample.text)) if fits]
    if i not in taken_by:
        return [("this sample isn't matched by its own line", False)]
    if taken_by[0] != i:
        above = dialect.places.line_of(("line", taken_by[0]))
        return [(f"this sample is taken by the line at {above} above it; put the narrower line first", False)]
    remarks: list[tuple[str, bool]] = []
    if len(taken_by) > 1:
        below = dialect.places.line_of(("line", taken_by[1]))
        remarks.append((f"the line at {below} matches this sample too; the first one wins", True))
    return remarks + [(error, False) for error in _errors(reads, header_names(dialect.file) or None, line, sample)]


def _errors(reads: DialectReader, header: tuple[str, ...] | None, line: Line, sample: Sample) -> list[str]:
    """In what a sample that its own line takes is not read as it says."""
    wanted = dict(sample.gives)
    t = wanted.pop("t", None)
    around = AROUND_US if t is None else _instant(str(t))
    if around is None:
        return [f"gives t = {t!r}, which is no instant with an offset"]
    reading = reads.read(pl.Series([sample.text]), Carry(header=header), around)
    verdict = int(reading.verdicts[0])
    if line.event == IGNORE:
        right = verdict == IGNORED and wanted in ({}, {"event": IGNORE})
        return [] if right else ['a sample of an ignored line gives nothing but event = "ignore"']
    if verdict == UNREAD or not len(reading.events):
        why = [f"this sample can't be read: {remark}" for remark in reading.remarks]
        return why or [
            "a value of this sample can't be read: its stamp, a number, or a word without a meaning in [words]"
        ]
    return _differences(reading.events.row(0, named=True), {"event": line.event, **wanted}, t, around)


def _instant(text: str) -> int | None:
    kinds, us = read_stamps(pl.Series([text]), NAMED["iso"])
    return int(us[0]) if kinds[0] == INSTANT else None


def _same(got: Any, wanted: Any) -> bool:
    if isinstance(got, float) and isinstance(wanted, int | float):
        return abs(got - wanted) <= 1e-9 * max(1.0, abs(wanted))
    return bool(got == wanted)


def _shown(value: Any) -> str:
    return "nothing" if value is None else json.dumps(value, ensure_ascii=False)


def shapes_that_match(dialect: Dialect, reads: DialectReader, text: str) -> list[bool]:
    """For each [[line]] of a dialect, whether it alone would match."""
    envelope = dialect.file.dialect.envelope
    if envelope in TABLES:
        return _whens_met(dialect, reads, text)
    inside: str | None = text.strip(BLANKS)
    if envelope in ("syslog", "journal"):
        unwrap = unwrap_syslog if envelope == "syslog" else unwrap_journal
        inside = unwrap(pl.Series([inside])).text[0]
    if inside is None:
        return [False] * len(reads.shapes)
    line = pl.DataFrame({"row": pl.Series([0], dtype=pl.UInt32), "text": [inside.strip(BLANKS)]})
    return [len(matches(shape, line)[0]) > 0 for shape in reads.shapes]


def _whens_met(dialect: Dialect, reads: DialectReader, text: str) -> list[bool]:
    if dialect.file.dialect.envelope == "json":
        values, fine = read_objects(pl.Series([text.strip(BLANKS)]), reads.wanted)
    else:
        names, separator = header_names(dialect.file), dialect.file.dialect.separator
        values, fine = read_csv(pl.Series([text]), names, reads.wanted, separator)
    row = values.row(0, named=True)
    return [bool(fine[0]) and all(row[key] == value for key, value in when.items()) for when in reads.whens]
