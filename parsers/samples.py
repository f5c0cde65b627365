"""A dialect's own samples: each must yield just what it says it gives, and by its own shape."""

import json
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl

from parsers.constants import BLANKS, IGNORE
from parsers.dialect import TABLES, Dialect, reader
from parsers.dialect_file import Line, Sample
from parsers.engine import DialectReader
from parsers.envelopes import unwrap_journal, unwrap_syslog
from parsers.jsonlines import read_objects
from parsers.reading import Carry
from parsers.shapes import matches
from parsers.stamps import INSTANT, NAMED, read_stamps
from parsers.tables import cells, read_csv
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
    head = dialect.file.dialect
    problems = []
    if head.envelope == "csv":
        named = cells(head.header, head.separator) if head.header is not None else None
        missing = [name for name in reader(dialect).wanted if name not in (named or [])]
        if missing:
            at = dialect.places.line_of(("dialect", "header"))
            return [
                Problem(at, f"header must be the host's header line, for the samples; it lacks {', '.join(missing)}")
            ]
    for i, line in enumerate(dialect.file.line):
        if not line.sample and line.event != IGNORE:
            problems.append(
                Problem(dialect.places.line_of(("line", i)), "this line has no sample; add one as the host writes it")
            )
        for k, sample in enumerate(line.sample):
            at = dialect.places.line_of(("line", i, "sample", k, "text"))
            problems += [Problem(at, says, warning) for says, warning in _sample(dialect, i, line, sample)]
    return problems


def _differences(event: dict[str, Any], wanted: dict[str, Any], t: object, us: int) -> list[str]:
    """In what an event is not what its sample gives; `t` is None, or what it gives as the instant `us`."""
    said = []
    if t is not None and event["t"] != us:
        said.append(f"gives t = {t}, but the line was read as {np.datetime64(event['t'], 'us')}Z")
    told = {key: value for key, value in event.items() if value is not None and key not in ("line", "t")}
    for key in sorted({*told, *wanted}):
        if not _same(told.get(key), wanted.get(key)):
            gives, was = _shown(wanted.get(key)), _shown(told.get(key))
            said.append(f"gives {key} = {gives}, but the line was read as {key} = {was}")
    return said


def _sample(dialect: Dialect, i: int, line: Line, sample: Sample) -> list[tuple[str, bool]]:
    reads = reader(dialect)
    taken_by = [k for k, fits in enumerate(shapes_that_match(dialect, reads, sample.text)) if fits]
    if i not in taken_by:
        return [("this sample isn't matched by its own line", False)]
    if taken_by[0] != i:
        above = dialect.places.line_of(("line", taken_by[0]))
        return [(f"this sample is taken by the line at {above} above it; put the narrower line first", False)]
    said: list[tuple[str, bool]] = []
    if len(taken_by) > 1:
        below = dialect.places.line_of(("line", taken_by[1]))
        said.append((f"the line at {below} matches this sample too; the first one wins", True))
    head = dialect.file.dialect
    header = tuple(cells(head.header, head.separator) or ()) if head.header is not None else None
    wanted = dict(sample.gives)
    t = wanted.pop("t", None)
    around = AROUND_US
    if t is not None:
        kinds, us = read_stamps(pl.Series([str(t)]), NAMED["iso"])
        if kinds[0] != INSTANT:
            return [*said, (f"gives t = {t!r}, which is no instant with an offset", False)]
        around = int(us[0])
    reading = reads.read(pl.Series([sample.text]), Carry(header=header), around)
    verdict = int(reading.verdicts[0])
    if line.event == IGNORE:
        right = verdict == IGNORED and wanted in ({}, {"event": IGNORE})
        return said if right else [*said, ('a sample of an ignored line gives nothing but event = "ignore"', False)]
    if verdict == UNREAD or not len(reading.events):
        why = [f"this sample can't be read: {remark}" for remark in reading.remarks]
        why = why or [
            "a value of this sample can't be read: its stamp, a number, or a word without a meaning in [words]"
        ]
        return [*said, *((one, False) for one in why)]
    event = reading.events.row(0, named=True)
    return [*said, *((one, False) for one in _differences(event, {"event": line.event, **wanted}, t, around))]


def _same(got: Any, wanted: Any) -> bool:
    if isinstance(got, float) and isinstance(wanted, int | float):
        return abs(got - wanted) <= 1e-9 * max(1.0, abs(wanted))
    return bool(got == wanted)


def _shown(value: Any) -> str:
    return "nothing" if value is None else json.dumps(value, ensure_ascii=False)


def shapes_that_match(dialect: Dialect, reads: DialectReader, text: str) -> list[bool]:
    """For each [[line]] of a dialect, whether it alone would match."""
    lines = pl.Series([text]) if dialect.file.dialect.envelope == "csv" else pl.Series([text]).str.strip_chars(BLANKS)
    head = dialect.file.dialect
    if head.envelope in TABLES:
        if head.envelope == "json":
            values, fine = read_objects(lines, reads.wanted)
        else:
            values, fine = read_csv(lines, cells(head.header or "", head.separator) or [], reads.wanted, head.separator)
        row = values.row(0, named=True)
        return [bool(fine[0]) and all(row[key] == value for key, value in when.items()) for when in reads.whens]
    if head.envelope in ("syslog", "journal"):
        inside = (unwrap_syslog if head.envelope == "syslog" else unwrap_journal)(lines).text[0]
        if inside is None:
            return [False] * len(reads.shapes)
        lines = pl.Series([inside]).str.strip_chars(BLANKS)
    one = pl.DataFrame({"row": pl.Series([0], dtype=pl.UInt32), "text": lines})
    return [len(matches(shape, one)[0]) > 0 for shape in reads.shapes]
