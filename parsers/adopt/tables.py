"""Rows of a table to shapes, by the columns that tell sorts of row apart."""

from collections import defaultdict
from collections.abc import Callable, Sequence

from parsers.adopt import trade, vocabulary
from parsers.adopt.model import Column, Sample, Shape

Chooser = Callable[[Sequence[dict[str, str]], Sequence[str], str | None], list[str]]
FEW = 12  #: a column with no more distinct values may tell sorts of line apart


def table_shapes(sample: Sample, rows: list[int], choose: Chooser) -> list[Shape]:
    """Rows of a table by the columns that tell them apart; `choose` picks these."""
    records = [sample.records[row] or {} for row in rows]
    names = list(dict.fromkeys(name for record in records for name in record))
    chosen = choose(records, names, sample.stamp_field)
    groups: dict[tuple[str, ...], list[int]] = defaultdict(list)
    for at, record in enumerate(records):
        groups[tuple(record.get(name, "") for name in chosen)].append(at)
    shapes = []
    for values, ats in groups.items():
        when = {name: value for name, value in zip(chosen, values, strict=True) if value or sample.envelope == "csv"}
        columns = []
        for name in names:
            if name == sample.stamp_field or name in chosen:
                continue
            column = Column(
                [records[at].get(name, "").strip() for at in ats], name=name, left=tuple(trade.spaced(name).split())
            )
            if any(column.values):
                columns.append(column)
        words = [word for value in values for word in trade.spaced(value).split()]
        shapes.append(Shape([rows[at] for at in ats], columns, when=when, words=words))
    return sorted(shapes, key=lambda shape: (-len(shape.when), -len(shape.rows)))


def settles(records: Sequence[dict[str, str]], name: str, names: Sequence[str]) -> float:
    """How far a column's value tells which other columns are filled, 0 to 1: the mean over the others of the
    uncertainty it takes away.
    """
    some = records[:: max(1, len(records) // 3000)]
    groups: dict[str, list[dict[str, str]]] = defaultdict(list)
    for record in some:
        groups[record.get(name, "")].append(record)
    told = of = 0.0
    for other in names:
        if other == name:
            continue
        share = sum(bool(record.get(other)) for record in some) / len(some)
        doubt = share * (1 - share)
        left = 0.0
        for members in groups.values():
            part = sum(bool(record.get(other)) for record in members) / len(members)
            left += len(members) / len(some) * part * (1 - part)
        told, of = told + max(0.0, doubt - left), of + doubt
    return told / of if of > 0.01 else 0.0


def event_sort(text: str) -> str | None:
    """A rough sort of event that one word stands for."""
    said = trade.spaced(text)
    for name, expression in (("refused", vocabulary.REFUSED), ("alive", vocabulary.ALIVE), ("page", vocabulary.PAGE)):
        if trade.says(expression, said):
            return name
    start, end = trade.says(vocabulary.START, said), trade.says(vocabulary.END, said)
    if end > start:
        return "end"
    if start > end:
        return "start"
    if trade.says(vocabulary.UP_WORDS, said) > trade.says(vocabulary.DOWN_WORDS, said):
        return "start"
    if trade.says(vocabulary.DOWN_WORDS, said):
        return "end"
    return (
        "start" if trade.says(vocabulary.HOST_UP, said) else "end" if trade.says(vocabulary.HOST_DOWN, said) else None
    )
