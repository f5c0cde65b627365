"""What a lesson on a log shows, and the learning behind it. Runs in a process of its own (server.bounded)."""

import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import polars as pl

from parsers.adopt.answers import known_from
from parsers.adopt.learn import Learnt
from parsers.adopt.more import Proposal, propose, still_unread
from parsers.dialect import dialect_from_text, reader
from server.intake.learning import Adopted, adopt_files, sample_lines
from server.intake.pairing import nothing_open, pair
from server.intake.years import carry_into
from server.teaching.lesson import Lesson, LineShown, OverShown, QuestionShown, ShapeHole, ShapeShown
from server.telling.moments import listed_second
from shared.events import MODE_LABELS

LINES_SHOWN, OVERS_SHOWN, SHAPES_SHOWN = 60, 25, 40
OVERS_FROM = 4000  #: lines that the first overs are taken from


@dataclass(frozen=True)
class Task:
    """A log to be learnt: the file, and what was said of it so far."""

    path: Path
    name: str  #: what the keeper calls it
    zone: str
    answers: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Taught:
    """What came of it: the lesson as it is shown (without its id), and the dialect."""

    lesson: Lesson
    text: str


def learn_log(task: Task) -> Taught:
    """Raises UnusableError, NothingToLearn."""
    known = known_from(task.answers, "the form")
    around_us = time.time_ns() // 1000
    adopted = adopt_files([task.path], known=known, zone=task.zone, name="taught", around_us=around_us)
    return Taught(_lesson(task, adopted, around_us), adopted.learnt.text)


@dataclass(frozen=True)
class Question:
    """Unread lines of a followed log, and the dialect that left them so."""

    text: str
    path: Path
    lines: tuple[str, ...]
    around_us: int
    header: tuple[str, ...] | None


@dataclass(frozen=True)
class Answer:
    """How many of the lines are unread still, and what would read them."""

    left: int
    proposals: tuple[Proposal, ...]


def look_at_unread(question: Question) -> Answer:
    """What the unread lines may be. Raises DialectError."""
    dialect = dialect_from_text(question.text, question.path)
    left = still_unread(dialect, list(question.lines), question.around_us, question.header)
    found = propose(question.text, dialect, left, question.around_us, question.header) if len(left) >= 5 else []
    return Answer(len(left), tuple(found))


def _lesson(task: Task, adopted: Adopted, around_us: int) -> Lesson:
    learnt, fit, told = adopted.learnt, adopted.fit, adopted.account
    shapes = sorted(learnt.shapes, key=lambda shape: -len(shape.rows))[:SHAPES_SHOWN]
    return Lesson(
        id="",
        log=task.name,
        poor=told.poor,
        verdict=told.verdict,
        sentences=told.sentences,
        overs=fit.overs,
        overs_before=None,
        questions=tuple(QuestionShown(q.key, q.asks, q.choices, q.guess, q.examples) for q in learnt.questions),
        shapes=tuple(
            ShapeShown(
                shape.name,
                shape.event,
                len(shape.rows),
                learnt.sample.lines[shape.rows[0]],
                tuple(
                    ShapeHole(n, column.key, tuple(value for value, _ in column.filled()[:4]))
                    for n, column in enumerate(shape.columns, 1)
                ),
                shape.why,
            )
            for shape in shapes
        ),
        lines=_lines_shown(learnt),
        sample_overs=_overs_shown(learnt, task.path, around_us),
        answers=task.answers,
    )


def _lines_shown(learnt: Learnt) -> tuple[LineShown, ...]:
    """The first lines of the sample, each with what was made of its parts."""
    by_row = {row: (shape, at) for shape in learnt.shapes for at, row in enumerate(shape.rows) if row < LINES_SHOWN * 3}
    lines = []
    for row, line in enumerate(learnt.sample.lines[:LINES_SHOWN]):
        if row not in by_row:
            lines.append(LineShown("unread", ((line, ""),)))
            continue
        shape, at = by_row[row]
        values = [(column.key, column.values[at]) for column in shape.columns if column.key != "_"]
        lines.append(LineShown(shape.event, _parts(line, values if shape.event != "ignore" else [])))
    return tuple(lines)


def _parts(line: str, values: list[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """A line cut at the values of its holes: each part with the key that it was given, '' for none."""
    parts: list[tuple[str, str]] = []
    rest = line
    for key, value in values:
        place = rest.find(value) if value else -1
        if place >= 0:
            parts += [(rest[:place], ""), (value, key)]
            rest = rest[place + len(value) :]
    return tuple((text, key) for text, key in (*parts, (rest, "")) if text)


def _overs_shown(learnt: Learnt, path: Path, around_us: int) -> tuple[OverShown, ...]:
    reads = reader(learnt.dialect)
    lines = pl.Series(sample_lines([path])[:OVERS_FROM], dtype=pl.String)
    read = reads.read(lines, carry_into(path, reads, around_us), around_us)
    overs = pair(nothing_open(), read.events).overs.filter(pl.col("end").is_not_null()).sort("start").head(OVERS_SHOWN)
    return tuple(
        OverShown(
            listed_second(row["start"]),
            MODE_LABELS.get(row["mode"], "not told"),
            str(row["slot"] or ""),
            row["side"] or "not told",
            row["station"] or "not told",
            f"{(row['end'] - row['start']) / 1e6:.1f}",
        )
        for row in overs.to_dicts()
    )
