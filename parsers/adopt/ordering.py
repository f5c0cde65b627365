"""The [[line]]s of text in an order in which each line of the log meets its own: narrower ones before wider ones."""

import re
from collections.abc import Sequence
from pathlib import Path

from parsers.adopt.lines import Entry, entry_of
from parsers.adopt.model import Sample
from parsers.adopt.writing import Head, text_of
from parsers.constants import BLANKS
from parsers.dialect import dialect_from_text

MOST_LINES = 150  #: an engine takes 255 shapes, and each costs time
LOOKED_AT = 6
Takes = Sequence[Sequence[float]]


def ordered(head: Head, entries: list[Entry], sample: Sample) -> list[Entry]:
    """The lines in order; those that take each other's lines become patterns, and those that others make useless go."""
    if sample.is_table:
        return entries[:MOST_LINES]
    takes = _takes(head, entries, sample)
    n = len(entries)
    greedy = {i for i in range(n) if any(takes[i][j] and takes[j][i] for j in range(n) if j != i)}
    if greedy:
        entries = [
            entry_of(one.shape, sample, head.time, strict=True) if i in greedy else one for i, one in enumerate(entries)
        ]
        takes = _takes(head, entries, sample)
    placed = _useful(_placed(entries, takes), entries, takes)
    talk = [i for i in placed if entries[i].event != "ignore"]
    quiet = sorted((i for i in placed if entries[i].event == "ignore"), key=lambda i: -len(entries[i].shape.rows))
    keep = {*talk[:MOST_LINES], *quiet[: max(0, MOST_LINES - len(talk))]}
    return [entries[i] for i in placed if i in keep]


def _placed(entries: Sequence[Entry], takes: Takes) -> list[int]:
    """Numbers of lines: one comes when nothing is left whose lines it would take, the narrowest first."""
    left = sorted(range(len(entries)), key=lambda i: (-_width(entries[i]), -len(entries[i].shape.rows)))
    placed: list[int] = []
    while left:
        free = next((i for i in left if _is_free(i, left, takes)), left[0])
        left.remove(free)
        told = any(takes[i][free] == 1 and entries[i].event == entries[free].event for i in placed)
        if takes[free][free] and not told:
            placed.append(free)
    return placed


def _is_free(line: int, left: Sequence[int], takes: Takes) -> bool:
    """Whether a line takes none of the others' lines, but of those that take its own."""
    return not any(takes[line][other] and not takes[other][line] for other in left if other != line)


def _useful(placed: Sequence[int], entries: Sequence[Entry], takes: Takes) -> list[int]:
    """Without ignored lines that a wider ignored line after them takes as well."""
    out = []
    for at, i in enumerate(placed):
        wider = [j for j in placed[at + 1 :] if takes[j][i] == 1 and entries[i].event == entries[j].event == "ignore"]
        if not wider:
            out.append(i)
    return out


def _width(entry: Entry) -> int:
    """How much fixed text a line has."""
    return len("".join(part for part in entry.shape.parts if isinstance(part, str)))


def _takes(head: Head, entries: Sequence[Entry], sample: Sample) -> Takes:
    """For each line the share of the others' texts that it would take."""
    dialect = dialect_from_text(text_of(head, entries, ""), Path("learnt"))
    expressions = [re.compile(shape.exact) for shape in dialect.shapes]
    bodies = [_bodies(entry, sample) for entry in entries]
    return [
        [sum(bool(one.search(body)) for body in texts) / max(1, len(texts)) for texts in bodies] for one in expressions
    ]


def _bodies(entry: Entry, sample: Sample) -> list[str]:
    rows = entry.shape.rows
    picked = rows[:: max(1, len(rows) // (LOOKED_AT - 1))][:LOOKED_AT]
    return [re.sub(r"[ \t]+", " ", (sample.texts[row] or "").strip(BLANKS)) for row in picked]
