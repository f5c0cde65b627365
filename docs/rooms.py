"""The rooms of the house: what each holds, and which others it may import. The table in DEVELOPERS.md is made from
here, and a test holds the imports to it.
"""

from dataclasses import dataclass
from pathlib import Path

HOUSE = Path(__file__).parents[1]
BEGIN, END = "<!-- made from docs/rooms.py by `python -m docs` -->\n", "<!-- end of what is made -->\n"


@dataclass(frozen=True)
class Room:
    """A package, or a module that stands alone. A room may always import itself."""

    name: str  #: as Python has it
    holds: str
    may_import: tuple[str, ...] = ()


CORE = ("server.analytics", "server.store", "shared")

ROOMS = (
    Room(
        "shared",
        "events and words, the columns of a batch, spans (interval arithmetic), zones, identity of a station, errors",
    ),
    Room(
        "parsers",
        "a batch of lines → columns of events (`reading.Reading`). No files, no clock, no database",
        ("shared",),
    ),
    Room(
        "server.config",
        "the station file: schema (one declaration a setting), loading, explaining, writing",
        ("server.telling", "shared"),
    ),
    Room(
        "server.service",
        "one worker under everything that runs beside the pages, one supervisor, one health",
        ("shared",),
    ),
    Room("server.bounded", "a process of its own with limits of time and memory", ("shared",)),
    Room(
        "server.store",
        "tables, migrations and every SQL statement: functions of a connection and plain values, a module a subject",
        ("shared",),
    ),
    Room(
        "server.intake",
        "find, follow and check-point files; pair events into overs",
        ("parsers", "server.config", "server.service", "server.store", "shared"),
    ),
    Room(
        "server.analytics",
        "every figure, plain functions over `activity.Activity`; tallies; comparison",
        ("server.store", "shared"),
    ),
    Room(
        "server.alerts",
        "the rules (pure), states, outbox, live watch, channels; replay with the same rules",
        (*CORE, "server.config", "server.service", "server.telling"),
    ),
    Room(
        "server.telling",
        "what is said, in one place: numbers, moments, changes, names of modes, incidents, targets and links, evidence,"
        " notices, cautions; labels and sentences with their figures' names",
        ("server.analytics", "shared"),
    ),
    Room(
        "server.report",
        "the committee's month: what it shows, as a sheet that the page and the PDF draw; the monthly mail",
        (*CORE, "server.alerts", "server.config", "server.service", "server.telling"),
    ),
    Room(
        "server.teaching",
        "lessons on logs and what unread lines may be, learnt in a bounded process; uploads",
        ("parsers", "server.bounded", "server.config", "server.intake", "server.store", "server.telling", "shared"),
    ),
    Room(
        "server.web",
        "FastAPI and Jinja2, server-made SVG; a view dataclass a page, templates get that and nothing else",
        (
            *CORE,
            "parsers",
            "server.alerts",
            "server.bounded",
            "server.config",
            "server.intake",
            "server.report",
            "server.service",
            "server.teaching",
            "server.telling",
        ),
    ),
    Room(
        "server.demo",
        "the Brackenfell traffic simulator with known truth, written as real logs",
        ("server.telling", "shared"),
    ),
    Room(
        "server.source",
        "a station and its store, as the commands and the pages ask of them",
        (
            *CORE,
            "server.alerts",
            "server.config",
            "server.intake",
            "server.report",
            "server.service",
            "server.telling",
            "server.web",
        ),
    ),
    Room(
        "server.cli",
        "the commands; the only place besides `web` that asks the clock",
        ("parsers", "server", "shared"),
    ),
)
#: Folders without code of ours that imports.
OTHERS = (
    ("templates/", "pages and the style sheet"),
    ("sample_logs/", "small logs of the invented dialects, with what each must yield"),
    ("docs/", "what is promised, and what is made from the code"),
    ("tests/", "mirrors the rooms; `tests/benchmarks` measures"),
)


def rooms_table() -> str:
    """The table of DEVELOPERS.md."""
    rows = [f"| `{_path(room.name)}` | {room.holds} | {_named(room.may_import)} |" for room in ROOMS]
    rows += [f"| `{path}` | {holds} | |" for path, holds in OTHERS]
    return "\n".join(["| room | holds | may import |", "| --- | --- | --- |", *rows]) + "\n"


def with_table(page: str) -> str:
    """The page with its table made anew. ValueError where it has no place for it."""
    before, between, rest = page.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not between or not end:
        raise ValueError("DEVELOPERS.md has no place for the table of rooms")
    return before + BEGIN + rooms_table() + END + after


def _path(name: str) -> str:
    path = name.replace(".", "/")
    return path + ("/" if (HOUSE / path).is_dir() else ".py")


def _named(names: tuple[str, ...]) -> str:
    if "server" in names:
        return "all"
    return ", ".join(f"`{name.removeprefix('server.')}`" for name in sorted(names)) or "nothing of ours"
