"""What a duration, a share and a local time are called is decided in server/telling: no room that may ask it formats
one by itself. The way a module is looked through is our own; no source.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from docs.rooms import ROOMS

ROOT = Path(__file__).parents[2]
TELLING = "server.telling"
#: A unit right after a number.
UNIT = re.compile(r"[\s\u00a0](?:s|min|h|%)(?![A-Za-z])")
#: Whole dates and times as forms, addresses and files have them (ISO 8601).
FOR_MACHINES = {"%Y", "%Y-%m", "%Y-%m-%d", "%H:%M:%S", "%Y-%m-%dT%H:%M"}
#: Rooms that may ask telling and write other programs' texts: the demo writes host logs.
OTHERS = ("server.demo",)


def speaking() -> list[Path]:
    """Every module of the rooms that may ask telling."""
    rooms = [room.name for room in ROOMS if {TELLING, "server"} & set(room.may_import) and room.name not in OTHERS]
    found: list[Path] = []
    for room in rooms:
        place = ROOT / room.replace(".", "/")
        found += sorted(place.rglob("*.py")) if place.is_dir() else [place.with_suffix(".py")]
    return found


def own_spellings(text: str) -> Iterator[str]:
    """The places of a module that format a duration, a share or a local time."""
    tree = ast.parse(text)
    within = {id(piece) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for piece in node.values}
    for node in ast.walk(tree):
        if id(node) in within:
            continue
        if isinstance(node, ast.JoinedStr):
            yield from _in_text(node)
        elif isinstance(node, ast.Attribute) and node.attr in ("strftime", "ctime"):
            yield f"{node.lineno}: {node.attr}"
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and UNIT.fullmatch(node.value):
            yield f"{node.lineno}: {node.value!r}"


def _in_text(node: ast.JoinedStr) -> Iterator[str]:
    pieces = [*node.values, None]
    for piece, after in zip(node.values, pieces[1:], strict=True):
        if not isinstance(piece, ast.FormattedValue):
            continue
        given = "" if piece.format_spec is None else ast.unparse(piece.format_spec)[2:-1]
        unit = isinstance(after, ast.Constant) and UNIT.match(str(after.value))
        gap = isinstance(after, ast.FormattedValue) and ast.unparse(after.value).split(".")[-1] == "GAP"
        if (re.search("%[A-Za-z]", given) and given not in FOR_MACHINES) or given.endswith("%") or unit or gap:
            yield f"{node.lineno}: {ast.unparse(node)}"


@pytest.mark.parametrize("module", speaking(), ids=lambda path: str(path.relative_to(ROOT)))
def test_no_room_that_may_ask_spells_a_duration_a_share_or_a_time_by_itself(module: Path) -> None:
    assert list(own_spellings(module.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize(
    "line",
    [
        'f"{seconds:.0f} s"', 'f"{share:.1f}\u00a0% of it"', 'f"{share:.0%}"', 'f"{n}{words.GAP}min"',
        'f"{moment:%H:%M}"', 'moment.strftime("%d")', 'number(value, 1, " s")',
    ],
)  # fmt: skip
def test_a_spelling_of_its_own_is_seen(line: str) -> None:
    assert len(list(own_spellings(line))) == 1


@pytest.mark.parametrize("line", ['f"{n} stations"', 'f"{day:%Y-%m-%d}"', 'f"{duration(n)} so far"', '"6 min"'])
def test_other_words_are_let_be(line: str) -> None:
    assert list(own_spellings(line)) == []


def test_the_rooms_that_speak_are_looked_through_and_no_two_ask_each_other() -> None:
    found = {str(path.relative_to(ROOT)) for path in speaking()}
    assert {
        "server/web/week/view.py",
        "server/report/sheet.py",
        "server/cli/show.py",
        "server/teaching/unread.py",
    } <= found
    asks = {room.name: set(room.may_import) for room in ROOMS}
    for one, other in (("server.alerts", TELLING), ("server.web", "server.report")):
        assert not (other in asks[one] and one in asks[other]), (one, other)
