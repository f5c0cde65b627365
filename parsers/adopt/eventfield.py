"""Which field of a table, or of lines of pairs, tells what happened: by evidence, as everything else."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from parsers.adopt import trade
from parsers.adopt.naming import NAMES
from parsers.adopt.tables import event_sort, settles

CALLED = frozenset(
    [
        "event",
        "evt",
        "ev",
        "kind",
        "type",
        "action",
        "what",
        "msg",
        "state",
        "op",
        "cmd",
        "happening",
        "act",
        "verb",
        "status",
        "phase",
        "rec",
        "record",
        "message",
        "topic",
        "code",
        "cls",
        "class",
    ]
)
MOST_EVENTS = 24  #: a host has so many words for what happens, at most
LEAST = 2.6


@dataclass
class Field:
    """One field of some records."""

    name: str
    records: Sequence[dict[str, str]]
    names: Sequence[str]
    counts: Counter[str]

    def share(self, test: Callable[[str], object]) -> float:
        told = sum(count for value, count in self.counts.items() if value)
        return sum(count for value, count in self.counts.items() if value and test(value)) / max(1, told)


def _settles(field: Field) -> float:
    return settles(field.records, field.name, field.names)


def _sorts(field: Field) -> float:
    return float(len({event_sort(value) for value in field.counts if value} - {None}) >= 2)


def _one_sort(field: Field) -> float:
    return field.share(lambda value: event_sort(value) is not None)


def _called(field: Field) -> float:
    return float(any(word in CALLED for word in trade.spaced(field.name).split()))


def _ends(field: Field) -> float:
    return float(any(word in NAMES["cause"] | NAMES["reason"] for word in trade.spaced(field.name).split()))


def _always(field: Field) -> float:
    return 1 - field.counts[""] / max(1, len(field.records))


def _station(value: str) -> bool:
    return trade.is_callsign(value) or trade.is_radio_id(value)


#: (weight, test, why)
EVIDENCE: tuple[tuple[float, Callable[[Field], float], str], ...] = (
    (2.5, _settles, "it tells which other fields are filled"),
    (1.0, _sorts, "its words are of several sorts of event"),
    (0.7, _one_sort, "its words are of events"),
    (1.5, _called, "its name says so"),
    (2.0, _always, "every line has it"),
    (-2.5, _ends, "its name is of how an over ends"),
    (-4.0, lambda field: field.share(trade.mode_of), "its values are modes"),
    (-4.0, lambda field: field.share(trade.side_of), "its values are sides"),
    (-4.0, lambda field: field.share(_station), "its values are stations"),
    (
        -3.0,
        lambda field: field.share(lambda value: not any(char.isalpha() for char in value)),
        "its values are numbers",
    ),
    (-2.0, lambda field: float(1 - _always(field) > 0.02), "many lines lack it"),
)


def event_field(records: Sequence[dict[str, str]], names: Sequence[str], stamp: str | None) -> str | None:
    """The field that tells what happened; None where none does."""
    best, chosen = LEAST, None
    for name in names:
        counts = Counter(record.get(name, "") for record in records)
        if name == stamp or len(counts) > MOST_EVENTS:
            continue
        field = Field(name, records, names, counts)
        score = sum(weight * test(field) for weight, test, _ in EVIDENCE)
        if score > best:
            best, chosen = score, name
    return chosen
