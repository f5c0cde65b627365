"""Dialects: a TOML file that says how one host's lines read, checked and turned into a Reader."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn
from zoneinfo import ZoneInfo

from parsers.activity import ActivityReader
from parsers.constants import IGNORE, KEYS
from parsers.dialect_file import DialectFile, Line, Places, checked_dialect_text, read_dialect_file
from parsers.engine import DialectReader
from parsers.reading import Reader
from parsers.shapes import Shape, compile_pattern, compile_template
from parsers.tables import cells
from parsers.time_forms import Form, time_form
from parsers.values import Meanings, key_of
from shared.errors import DialectError

SHIPPED = Path(__file__).parent / "dialects"
TABLES = ("csv", "json")


@dataclass(frozen=True)
class Dialect:
    """A dialect file that holds together."""

    path: Path
    file: DialectFile
    places: Places
    shapes: tuple[Shape, ...]  #: of text envelopes
    whens: tuple[Mapping[str, str], ...]  #: of table envelopes
    fields: Mapping[str, str]

    @property
    def name(self) -> str:
        return self.file.dialect.name


def load_dialect(path: Path) -> Dialect:
    """Reads and checks a dialect file. Raises DialectError with file, line and what to mend."""
    return _held_together(path, *read_dialect_file(path))


def dialect_from_text(text: str, path: Path) -> Dialect:
    """The same for a text that lies, or will lie, at `path`. Raises DialectError."""
    return _held_together(path, *checked_dialect_text(text, path))


def _held_together(path: Path, file: DialectFile, places: Places) -> Dialect:
    check = _Check(path, file, places)
    check.head()
    form = time_form(file.dialect.time)
    table = file.dialect.envelope in TABLES
    fields = check.fields()
    shapes = () if table else tuple(check.shape(i, line, form) for i, line in enumerate(file.line))
    whens = tuple(check.when(i, line) for i, line in enumerate(file.line)) if table else ()
    for i, line in enumerate(file.line):
        check.own_fields(i, line)
        check.ignored(i, line)
        check.filled(i, line, [*fields.values(), *line.fields.values()] if table else shapes[i].holes)
    return Dialect(path, file, places, shapes, whens, fields)


def reader(dialect: Dialect) -> DialectReader:
    """The Reader of a dialect."""
    file = dialect.file
    return DialectReader(
        name=dialect.name,
        form=time_form(file.dialect.time),
        zone=ZoneInfo(file.dialect.zone),
        envelope=file.dialect.envelope,
        stamped_at_end=file.dialect.stamp == "end",
        meanings=Meanings(
            events=tuple(line.event for line in file.line),
            sets=tuple(line.set for line in file.line),
            words={str(table): _meanings(str(table), words) for table, words in file.words.items()},
            seconds_factor=file.unit.seconds_factor,
            percent_factor={key: 100.0 for key in ("ber_pct", "loss_pct") if getattr(file.unit, key) == "fraction"},
        ),
        shapes=dialect.shapes,
        whens=dialect.whens,
        own_fields=tuple(line.fields for line in file.line),
        columns=None if file.dialect.headed else header_names(file),
        fields=dialect.fields or None,
        separator=file.dialect.separator,
        meaning=_meaning(file),
    )


def _meanings(table: str, words: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    """By word what it gives: of a table of words a value of the table's key, or several keys."""
    return {word: means if isinstance(means, dict) else {table: means} for word, means in words.items()}


def header_names(file: DialectFile) -> tuple[str, ...]:
    """The columns that the header of a csv dialect names; none without one."""
    return tuple(cells(file.dialect.header or "", file.dialect.separator) or ())


def _meaning(file: DialectFile) -> str:
    """parsers.reading.Reader.meaning: samples and remarks are no part of the digest."""
    says = file.model_dump(
        mode="json", exclude={"dialect": {"name", "zone", "header"}, "line": {"__all__": {"sample"}}}
    )
    digest = hashlib.blake2b(json.dumps(says, sort_keys=True).encode(), digest_size=8).hexdigest()
    return f"{file.dialect.name} {file.dialect.zone} {digest}"


def shipped_dialects() -> list[str]:
    """The names of the dialects that come with the program."""
    return sorted(path.stem for path in SHIPPED.glob("*.toml"))


def find_dialect(name_or_path: str, beside: Path) -> Reader:
    """The Reader for a station file's `dialect`: "activity", a path, a NAME.toml beside the station file (`beside`:
    that file or its folder), or the name of a shipped dialect; a file beside the station file comes before a shipped
    one. Raises DialectError.
    """
    if name_or_path == "activity":
        return ActivityReader()
    return reader(load_dialect(dialect_path(name_or_path, beside)))


def dialect_path(name_or_path: str, beside: Path) -> Path:
    """The file that `find_dialect` reads. Raises DialectError."""
    folder = beside if beside.is_dir() else beside.parent
    if name_or_path.endswith(".toml") or "/" in name_or_path:
        path = folder / Path(name_or_path).expanduser()
        if path.is_file():
            return path
        raise DialectError(f"{path}: there is no such dialect file; mend the path")
    for path in (folder / f"{name_or_path}.toml", SHIPPED / f"{name_or_path}.toml"):
        if path.is_file():
            return path
    known = ", ".join(["activity", *shipped_dialects()])
    raise DialectError(
        f"there is no dialect '{name_or_path}': no {name_or_path}.toml lies in {folder}, and shipped are {known}"
    )


@dataclass(frozen=True)
class _Check:
    """What the parts of a file must be together."""

    path: Path
    file: DialectFile
    places: Places

    def refuse(self, where: tuple[Any, ...], says: object) -> NoReturn:
        raise DialectError(f"{self.path}:{self.places.line_of(where)}: {says}")

    def head(self) -> None:
        head = self.file.dialect
        if head.envelope != "csv":
            for key in ("separator", "header", "headed"):
                if key in head.model_fields_set:
                    self.refuse(("dialect", key), f"{key} is for the csv envelope; take it out")
        if not head.headed and head.header is None:
            self.refuse(
                ("dialect", "headed"), "a csv without a header line needs header = with the names of its columns"
            )
        if head.envelope not in TABLES and self.file.fields:
            self.refuse(("fields",), "[fields] is for the csv and json envelopes; take it out")

    def fields(self) -> dict[str, str]:
        flat: dict[str, str] = {}

        def walk(table: Mapping[str, Any], before: tuple[str, ...]) -> None:
            for theirs, ours in table.items():
                if isinstance(ours, dict):
                    walk(ours, (*before, theirs))
                elif ours not in ("t", "duration", *KEYS):
                    self.refuse(
                        ("fields", *before, theirs),
                        f"'{ours}' is no key of ours; take t, duration or one of {', '.join(KEYS)}",
                    )
                elif ours in flat.values() or (
                    ours in ("seconds", "duration") and {"seconds", "duration"} & set(flat.values())
                ):
                    self.refuse(("fields", *before, theirs), f"two fields give {ours}; keep one")
                else:
                    flat[".".join((*before, theirs))] = ours

        walk(self.file.fields, ())
        if self.file.dialect.envelope in TABLES and "t" not in flat.values():
            self.refuse(
                ("fields",) if self.file.fields else ("dialect",),
                '[fields] must name the field that holds the stamp: "its name" = "t"',
            )
        return flat

    def shape(self, i: int, line: Line, form: Form) -> Shape:
        if line.when is not None:
            self.refuse(("line", i, "when"), "when is for the csv and json envelopes; take text or pattern")
        if (line.text is None) == (line.pattern is None):
            self.refuse(("line", i), "a line needs either text or pattern")
        key = "text" if line.text is not None else "pattern"
        try:
            if line.text is not None:
                return compile_template(line.text, form, line.event)
            return compile_pattern(line.pattern or "", line.event)
        except ValueError as e:
            self.refuse(("line", i, key), e)

    def when(self, i: int, line: Line) -> dict[str, str]:
        for key in ("text", "pattern"):
            if getattr(line, key) is not None:
                self.refuse(
                    ("line", i, key),
                    f'{key} can\'t match the {self.file.dialect.envelope} envelope; take when = {{ column = "value" }}',
                )
        if line.when is None:
            self.refuse(("line", i), 'a line needs when = { column = "value" }; when = {} meets every line')
        return {key: str(value).lower() if isinstance(value, bool) else str(value) for key, value in line.when.items()}

    def own_fields(self, i: int, line: Line) -> None:
        """A line's own fields: of tables alone, to keys of ours."""
        if line.fields and self.file.dialect.envelope not in TABLES:
            self.refuse(("line", i, "fields"), "fields are for the csv and json envelopes; name the hole as what it is")
        for theirs, ours in line.fields.items():
            if ours not in ("duration", *KEYS):
                self.refuse(
                    ("line", i, "fields"),
                    f"'{ours}' (of '{theirs}') is no key of ours; take duration or one of {', '.join(KEYS)}",
                )

    def ignored(self, i: int, line: Line) -> None:
        if line.event == IGNORE and line.set:
            self.refuse(("line", i, "set"), "a line that is ignored sets nothing; take set out")

    def filled(self, i: int, line: Line, holes: tuple[str, ...] | list[str]) -> None:
        """Whether a shape gives what its event needs."""
        if line.event == IGNORE:
            return
        given = set(map(key_of, holes))
        if self.file.dialect.envelope == "none" and "t" not in given:
            key = "text" if line.text is not None else "pattern"
            self.refuse(("line", i, key), "the line has no {t}, so its instant can't be known")
        if line.event == "over" and "seconds" not in given | set(line.set):
            self.refuse(("line", i), "a whole over needs {duration} or {seconds}")
        twice = given & set(line.set)
        if twice and self.file.dialect.envelope not in TABLES:
            self.refuse(("line", i, "set"), f"{min(twice)} is both a hole and set; keep one")
