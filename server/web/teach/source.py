"""What the teaching pages ask of a station. Every method may block; errors are AirtallyErrors with one plain
sentence."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol


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
class HoleShown:
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
    holes: tuple[HoleShown, ...]
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


class Teacher(Protocol):
    """Learns for the pages."""

    def news(self, log_name: str) -> LogNews: ...

    def accept(self, log_name: str, key: str) -> str:
        """Puts a proposal ('' for none: only reads again) into the log's dialect and reads the kept lines again; says
        what came of it."""
        ...

    def files(self) -> Sequence[str]:
        """Log files on this machine that may be taught."""
        ...

    def begin(self, name: str, data: bytes | None, left: Callable[[], bool]) -> Lesson:
        """A lesson on an uploaded log (`data`), or on a file of this machine. Ends with server.bounded.Left as soon as
        `left()`."""
        ...

    def lesson(self, id: str) -> Lesson | None: ...

    def correct(self, id: str, answers: Mapping[str, Any], left: Callable[[], bool]) -> Lesson | None:
        """Learns again with all that has been said. Ends as `begin` does."""
        ...

    def save(self, id: str, name: str) -> str:
        """Writes the dialect beside the station file; says where."""
        ...
