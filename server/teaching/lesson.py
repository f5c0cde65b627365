"""A lesson and what is new in a log, as the teaching pages show them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class News:
    """Unread lines of a followed log that look alike, and the line that would read them."""

    key: str  #: names the proposal when it is accepted
    event: str
    toml: str  #: what goes into the dialect file
    lines: int
    examples: tuple[str, ...]
    sure: bool


@dataclass(frozen=True)
class LogNews:
    """All that is new in one log."""

    news: tuple[News, ...] = ()
    rose: str = ""  #: a sentence on how the share of unread lines changed
    again: int = 0  #: kept lines that the dialect understands by now, and that can be read again as they are


@dataclass(frozen=True)
class ShapeHole:
    """A place where the lines of a shape differ."""

    number: int
    key: str
    values: tuple[str, ...]


@dataclass(frozen=True)
class ShapeShown:
    name: str
    event: str
    lines: int
    example: str
    holes: tuple[ShapeHole, ...]
    why: str


@dataclass(frozen=True)
class LineShown:
    """One line of the sample: the event it was read as (`unread` where none), and its pieces with the key that each was
    given, '' for none."""

    event: str
    pieces: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class OverShown:
    start: str
    mode: str
    slot: str
    side: str
    station: str
    seconds: str


@dataclass(frozen=True)
class QuestionShown:
    key: str
    asks: str
    choices: tuple[str, ...]
    guess: str
    examples: tuple[str, ...]


@dataclass(frozen=True)
class Lesson:
    """A log being taught, as far as it has come."""

    id: str
    log: str
    poor: bool
    verdict: str
    sentences: tuple[str, ...]
    overs: int
    overs_before: int | None  #: before the last correction
    questions: tuple[QuestionShown, ...]
    shapes: tuple[ShapeShown, ...]
    lines: tuple[LineShown, ...]
    sample_overs: tuple[OverShown, ...]
    answers: Mapping[str, Any] = field(default_factory=dict)
