"""What a dialect file may hold, and the line of the file that a mistake is on.

The models name every key once; a key that they don't know is refused by name, nested ones too.
"""

import re
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from parsers.constants import IGNORE, KEYS, wrong_value
from parsers.time_forms import time_form
from shared import toml
from shared.errors import DialectError
from shared.events import EVENTS

Constant = bool | str | int | float
#: steps of pydantic's paths that name a type and no key
TYPE_STEP = re.compile(r"\[key\]$|(bool|str|int|float|dict|function-after|function-wrap)(\[.*)?$")
Envelope = Literal["none", "syslog", "journal", "csv", "json"]


class Misplaced(ValueError):
    """A mistake in a part further in than the model that found it."""

    def __init__(self, says: str, *where: str) -> None:
        super().__init__(says)
        self.where = where


def _checked_keys(given: dict[str, Any]) -> dict[str, Any]:
    """Constants under our own keys, each with a value that an activity line could have."""
    for key, value in given.items():
        if key not in KEYS:
            raise Misplaced(f"unknown key '{key}'; known are {', '.join(KEYS)}", key)
        if trouble := wrong_value(key, value):
            raise Misplaced(trouble, key)
    return given


def _checked_event(event: str) -> str:
    if event != IGNORE and event not in EVENTS:
        raise ValueError(f"'{event}' is no event; events are {', '.join(EVENTS)} and {IGNORE}")
    return event


def _checked_time(time: str) -> str:
    time_form(time)
    return time


def _checked_zone(zone: str) -> str:
    try:
        ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as e:
        raise ValueError(f"'{zone}' is no zone of the IANA database, such as Europe/London") from e
    return zone


def _checked_unit(unit: str) -> str:
    framed = re.fullmatch(r"frames:(\d+(?:\.\d+)?)ms", unit)
    if unit not in ("s", "ms") and not (framed and float(framed[1]) > 0):
        raise ValueError(f"'{unit}' is no unit of seconds; take s, ms, or frames with their length such as frames:20ms")
    return unit


Event = Annotated[str, AfterValidator(_checked_event)]
Constants = Annotated[dict[str, Constant], AfterValidator(_checked_keys)]


class Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Head(Strict):
    """`[dialect]`"""

    name: str = Field(min_length=1)
    time: Annotated[str, AfterValidator(_checked_time)] = "iso"
    zone: Annotated[str, AfterValidator(_checked_zone)] = "UTC"
    envelope: Envelope = "none"
    stamp: Literal["event", "end"] = "event"
    separator: str = Field(default=",", min_length=1, max_length=1)  # between the columns of a csv
    header: str | None = None  # of a csv: the header line that its samples stand under
    headed: bool = True  # of a csv: whether its files begin with a header line; where not, `header` names the columns


class Unit(Strict):
    """`[unit]`: what a bare number means."""

    seconds: Annotated[str, AfterValidator(_checked_unit)] = "s"
    ber_pct: Literal["percent", "fraction"] = "percent"
    loss_pct: Literal["percent", "fraction"] = "percent"

    @property
    def seconds_factor(self) -> float:
        """Seconds in one of the host's units."""
        if self.seconds.startswith("frames:"):
            return float(self.seconds.removeprefix("frames:").removesuffix("ms")) / 1000
        return {"s": 1.0, "ms": 0.001}[self.seconds]


class Sample(Strict):
    """`[[line.sample]]`; `gives` may be left out of a line that is ignored."""

    text: str
    gives: dict[str, Constant] = {}

    @model_validator(mode="after")
    def _known_keys(self) -> "Sample":
        if "event" in self.gives:
            _checked_event(str(self.gives["event"]))
        _checked_keys({key: value for key, value in self.gives.items() if key not in ("event", "t")})
        return self


class Line(Strict):
    """`[[line]]`: one shape of line."""

    event: Event
    text: str | None = None
    pattern: str | None = None
    when: dict[str, Constant] | None = None
    set: Constants = {}
    fields: dict[str, str] = {}  # of a table: columns that mean something else in this line than [fields] says
    sample: tuple[Sample, ...] = Field(default=(), strict=False)


class DialectFile(Strict):
    """A whole dialect file, its values checked one by one; what they must be together, parsers.dialect checks."""

    dialect: Head
    words: dict[
        Literal[
            "mode",
            "side",
            "cause",
            "reason",
            "slot",
            "station",
            "target",
            "network",
            "seconds",
            "ber_pct",
            "loss_pct",
            "rssi_dbm",
        ],
        dict[str, Constant | Constants],
    ] = {}
    unit: Unit = Unit()
    fields: dict[str, Any] = {}
    line: tuple[Line, ...] = Field(min_length=1, strict=False)

    @model_validator(mode="after")
    def _words(self) -> "DialectFile":
        for table, words in self.words.items():
            for word, means in words.items():
                if not isinstance(means, dict) and (trouble := wrong_value(table, means)):
                    raise Misplaced(trouble, "words", table, word)
        return self


class Places:
    """Where in the text of a dialect file its parts stand."""

    def __init__(self, text: str) -> None:
        self.rows = text.splitlines()

    def line_of(self, where: tuple[Any, ...]) -> int:
        """The line number, from 1, of the part at a path such as ("line", 3, "set", "side"); of the nearest part around
        it where that itself can't be found.
        """
        start, end = 0, len(self.rows)
        name = ""
        steps = _numbered(where)
        for number, (step, nth) in enumerate(steps):
            name = f"{name}.{step}" if name else step
            headings = self._headings(name, start, array=nth is not None)
            if (nth or 0) < len(headings):
                start = headings[nth or 0]
                end = self._end(start)
                continue
            below = steps[number + 1 : number + 2] if nth is None else []
            if not any(self._headings(f"{name}.{after}", start, array=False) for after, _ in below):
                return self._key(step, start, end) + 1
        return start + 1

    def _headings(self, name: str, start: int, *, array: bool) -> list[int]:
        """The rows from `start` on that begin a table, or a table of an array, of this name."""
        dots = r"\s*\.\s*".join(rf"[\"']?{re.escape(part)}[\"']?" for part in name.split("."))
        heading = re.compile(rf"\s*\[\[\s*{dots}\s*\]\]" if array else rf"\s*\[\s*{dots}\s*\]")
        return [row for row in range(start, len(self.rows)) if heading.match(self.rows[row])]

    def _end(self, start: int) -> int:
        after = (row for row in range(start + 1, len(self.rows)) if self.rows[row].lstrip().startswith("["))
        return next(after, len(self.rows))

    def _key(self, key: str, start: int, end: int) -> int:
        """The row of a key, `start` where it can't be found."""
        wanted = re.compile(rf"(?:^|[{{,\s.])[\"']?{re.escape(key)}[\"']?\s*[=.]")
        return next((row for row in range(start, end) if wanted.search(self.rows[row])), start)


def _numbered(where: tuple[Any, ...]) -> list[tuple[str, int | None]]:
    """The names of a path, each with the number that follows it."""
    after = (*where[1:], None)
    return [
        (str(step), nth if isinstance(nth, int) else None)
        for step, nth in zip(where, after, strict=True)
        if not isinstance(step, int)
    ]


def read_dialect_file(path: Path) -> tuple[DialectFile, Places]:
    """The checked values of a dialect file. Raises DialectError with file, line and what to mend."""
    try:
        text = path.read_text(encoding="utf-8-sig")  # some editors begin a file with a byte order mark
    except (OSError, UnicodeDecodeError) as e:
        reason = e.strerror if isinstance(e, OSError) else "it is not UTF-8 text"
        raise DialectError(f"{path}: the dialect can't be read: {reason}") from e
    return checked_dialect_text(text, path)


def checked_dialect_text(text: str, path: Path) -> tuple[DialectFile, Places]:
    """The same for a text that lies, or will lie, at `path`."""
    try:
        values = toml.loads(text)
    except toml.TomlError as e:
        number = e.line or len(text.splitlines()) or 1
        raise DialectError(f"{path}:{number}: this is not TOML: {e}") from e
    places = Places(text)
    try:
        return DialectFile.model_validate(values), places
    except ValidationError as e:
        every = e.errors(include_url=False)
        # Where a value may be of several types, pydantic tells a mistake for each: what our own checks say comes first.
        error = next((error for error in every if error["type"] == "value_error"), every[0])
        where = tuple(step for step in error["loc"] if not (isinstance(step, str) and TYPE_STEP.match(step)))
        where += getattr(error.get("ctx", {}).get("error"), "where", ())
        raise DialectError(f"{path}:{places.line_of(where)}: {_sentence(error, where)}") from e


def _dotted(where: tuple[Any, ...]) -> str:
    """A path as a reader has it: places are counted from 1."""
    return ".".join(str(step + 1) if isinstance(step, int) else str(step) for step in where if step is not None)


def _sentence(error: Any, where: tuple[Any, ...]) -> str:
    """One plain sentence for what pydantic found."""
    name = _dotted(where)
    kind, context = error["type"], error.get("ctx", {})
    match kind:
        case "extra_forbidden":
            return f"unknown key '{where[-1]}' (in {name}); mend its spelling or take it out"
        case "missing":
            return f"the key '{where[-1]}' is missing (in {name})"
        case "literal_error":
            return f"{name} can't be {error['input']!r}; expected {context['expected']}"
        case "value_error":
            return f"{name}: {context['error']}" if name else str(context["error"])
    if kind.endswith("_type") and len(where) < len(error["loc"]):
        return f"{name}: expected text or a number, not {error['input']!r}"[:300]
    return f"{name}: {error['msg'][0].lower()}{error['msg'][1:]}, not {error['input']!r}"[:300]
