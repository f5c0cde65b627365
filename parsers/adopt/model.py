"""What the learner knows of a log while it learns: lines, shapes, and the columns in which the lines of a shape
differ.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from parsers.adopt.stampfind import Stamping

TALK = ("over-start", "over-end", "over")  #: events of overs


@dataclass(frozen=True)
class Known:
    """What the keeper has said, by answers or by hand; nothing of it is guessed again."""

    zone: str | None = None
    time: str | None = None
    seconds: str | None = None  #: unit of bare durations, as in a dialect's [unit]
    stamp: str | None = None  #: event | end
    words: Mapping[str, Mapping[str, Any]] = field(
        default_factory=dict
    )  #: table -> spelling -> our word, or "" for none
    events: Mapping[str, str] = field(default_factory=dict)  #: a shape's name -> event
    holes: Mapping[str, Mapping[str, str]] = field(
        default_factory=dict
    )  #: a shape's name -> column number from 1 -> key


@dataclass
class Column:
    """One place where the lines of a shape differ; of a table one named column."""

    values: list[str]  #: a value a row, trimmed
    left: tuple[str, ...] = ()  #: the words before it, the nearest last, in lower case
    right: str = ""  #: the text right after it
    name: str | None = None  #: of a table: the host's name for the column
    of_run: bool = (
        False  #: a number that goes with a run of the host, such as a process id, and tells nothing of the traffic
    )
    key: str = "_"
    sure: bool = True
    counts: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self.counts = Counter(self.values)

    def filled(self) -> list[tuple[str, int]]:
        """Distinct values that are not empty, with how often each stands."""
        return [(value, count) for value, count in self.counts.most_common() if value]


@dataclass
class Shape:
    """Lines that say the same sort of thing."""

    rows: list[int]  #: which lines of the sample
    columns: list[Column]
    parts: list[str | int] = field(
        default_factory=list
    )  #: of text: literal pieces and numbers of columns, in order; -1 is the stamp
    when: dict[str, str] = field(default_factory=dict)  #: of a table: what makes a row one of this shape
    words: list[str] = field(default_factory=list)  #: its fixed words in lower case
    event: str = "ignore"
    sure: bool = True
    set: dict[str, Any] = field(default_factory=dict)
    why: str = ""
    why_guessed: bool = False  #: whether the reason of a refusal is a guess

    def column(self, key: str) -> Column | None:
        """The column that has one of our keys."""
        return next((column for column in self.columns if column.key == key), None)

    @property
    def name(self) -> str:
        """The shape as people see it, and as answers name it: its text with numbered holes."""
        if self.parts:
            return "".join(
                "{t}" if part == -1 else f"{{{part + 1}}}" if isinstance(part, int) else part for part in self.parts
            )
        said = ", ".join(f"{key} = {value}" for key, value in self.when.items())
        return said or "every row"


@dataclass
class Sample:
    """The lines that are learnt from, without their envelope."""

    lines: Sequence[str]  #: as they stand in the log
    envelope: str
    texts: list[str | None]  #: of text: what the envelope held; of a table None
    records: list[dict[str, str] | None]  #: of a table: a record a line
    header: tuple[str, ...] | None = None
    separator: str | None = None  #: between cells, of a csv with or without header
    headed: bool = True  #: of a csv: whether its files begin with a header line
    stamping: Stamping | None = None
    stamp_field: str | None = None
    us: npt.NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    stamped: npt.NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))
    zone: str = "UTC"
    zone_sure: bool = True

    @property
    def is_table(self) -> bool:
        return self.envelope in ("csv", "json")
