"""Documents are held to the code, and the house to its plan."""

import ast
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from docs.__main__ import PAGES
from docs.examples import EXAMPLES, examples, shortened, shown
from docs.rooms import ROOMS, Room
from server.cli import COMMANDS
from server.config import load_station
from server.demo.write import write_demo
from server.intake.ingest import Intake
from server.store.engine import open_store
from shared.events import MODES

ROOT = Path(__file__).parents[1]


@pytest.mark.parametrize("page", PAGES)
def test_the_pages_made_from_the_code_are_up_to_date(page: str) -> None:
    assert (ROOT / "docs" / page).read_text(encoding="utf-8") == PAGES[page](), "run `python -m docs`"


def fields(value: Any) -> Any:
    """The keys of a JSON value, however deep; of a list those of its first item. Slots and timers are named by what
    there is.
    """
    if isinstance(value, dict):
        return {key: fields(its) for key, its in value.items() if key not in ("slot_s", "hold_s")}
    return [fields(value[0])] if isinstance(value, list) and value and isinstance(value[0], dict) else None


def test_the_examples_of_the_contract_lack_no_field_that_the_commands_print(tmp_path: Path) -> None:
    write_demo(tmp_path)  # whole: its antenna breaks in the fourth week
    station = load_station(tmp_path / "station.toml")
    Intake(open_store(station.store_url()), station).catch_up()
    stands = shown((ROOT / "docs" / "contract.md").read_text(encoding="utf-8"))
    assert stands.keys() == EXAMPLES.keys()
    for heading, printed in examples(tmp_path / "station.toml").items():
        assert fields(stands[heading]) == fields(printed) and shortened(stands[heading]) == stands[heading], heading


def test_every_command_is_named_in_the_readme() -> None:
    readme = (ROOT / "README.md").read_text()
    assert [command for command in COMMANDS if f"airtally {command}" not in readme] == []


def test_the_readme_names_the_two_commands_and_a_picture_that_exists() -> None:
    readme = (ROOT / "README.md").read_text()
    assert "make demo" in readme and "make test" in readme
    pictures = re.findall(r"\]\((docs/[^)]+\.png)\)", readme)
    assert pictures and all((ROOT / picture).is_file() for picture in pictures)


def test_the_readme_shows_the_unit_as_it_is() -> None:
    assert (ROOT / "docs/airtally.service").read_text() in (ROOT / "README.md").read_text()


@pytest.mark.real
def test_the_unit_is_safe_by_systemds_own_measure(tmp_path: Path) -> None:
    # systemd-analyze(1), security: an exposure from 0.0 to 10.0, computed by systemd itself.
    unit = shutil.copy(ROOT / "docs/airtally.service", tmp_path)
    done = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", unit], capture_output=True, text=True, check=True
    )
    exposure = re.search(r"Overall exposure level for airtally.service: ([0-9.]+)", done.stdout)
    assert exposure is not None and float(exposure[1]) <= 2.5


def test_every_link_in_the_documents_leads_somewhere() -> None:
    for page in [*ROOT.glob("*.md"), *ROOT.glob("docs/*.md"), *ROOT.glob("sample_logs/*.md")]:
        for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text()):
            assert target.startswith(("http", "mailto")) or (page.parent / target).exists(), f"{page.name}: {target}"


def test_every_room_of_the_tree_is_in_the_table() -> None:
    named = [room.name for room in ROOMS]
    stands = ["shared", "parsers"]
    for path in (ROOT / "server").iterdir():
        if (path / "__init__.py").is_file() or (path.suffix == ".py" and path.stem != "__init__"):
            stands.append(f"server.{path.stem}")
    assert sorted(named) == sorted(stands)


def modules_of(room: Room) -> list[Path]:
    path = ROOT / room.name.replace(".", "/")
    return sorted(path.rglob("*.py")) if path.is_dir() else [path.with_suffix(".py")]


def imported_of_ours(path: Path) -> list[str]:
    """The modules of ours that a module imports, those named after `from server import` too."""
    named: list[str] = []
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom):
            named += [f"server.{a.name}" for a in node.names] if node.module == "server" else [node.module or ""]
        elif isinstance(node, ast.Import):
            named += [a.name for a in node.names]
    return [name for name in named if name.split(".")[0] in ("shared", "parsers", "server", "docs", "tests")]


@pytest.mark.parametrize("room", ROOMS, ids=lambda room: room.name)
def test_no_arrow_runs_back_through_the_house(room: Room) -> None:
    may = (room.name, *room.may_import)
    wrong = [
        f"{path.relative_to(ROOT)} imports {name}"
        for path in modules_of(room)
        for name in imported_of_ours(path)
        if not any(name == its or name.startswith(f"{its}.") for its in may)
    ]
    assert wrong == []


def test_a_room_may_import_no_more_than_it_does() -> None:
    idle = []
    for room in ROOMS:
        does = {name for path in modules_of(room) for name in imported_of_ours(path)}
        idle += [
            f"{room.name} never imports {may}"
            for may in room.may_import
            if not any(name == may or name.startswith(f"{may}.") for name in does)
        ]
    assert idle == []


SQL = re.compile(
    r"\s*(select|insert into|update|delete from|create|alter|drop|pragma|begin|with)\s[\s\S]*", re.IGNORECASE
)


def asks_a_database(tree: ast.AST) -> list[str]:
    """What in a module speaks to a database by itself: the library's name, a statement's run, the text of one."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [f"imports {a.name}" for a in node.names if a.name.split(".")[0] in ("sqlalchemy", "sqlite3")]
        elif isinstance(node, ast.ImportFrom):
            module = node.module or ""
            whole = [module, *(f"{module}.{a.name}" for a in node.names)]
            found += [
                f"imports {name}" for name in whole
                if name.split(".")[0] in ("sqlalchemy", "sqlite3") or name == "server.store.schema"
            ]  # fmt: skip
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            if node.func.attr in ("execute", "executemany", "exec_driver_sql"):
                found.append(f"line {node.lineno} calls {node.func.attr}")
            texts = [a.value for a in node.args if isinstance(a, ast.Constant) and isinstance(a.value, str)]
            if node.func.attr in ("text", "execute") and any(map(SQL.fullmatch, texts)):
                found.append(f"line {node.lineno} writes SQL")
    return found


def test_only_the_store_asks_the_database() -> None:
    outside = [
        path
        for room in ("shared", "parsers", "server")
        for path in (ROOT / room).rglob("*.py")
        if not path.is_relative_to(ROOT / "server" / "store")
    ]
    asked = {str(path.relative_to(ROOT)): asks_a_database(ast.parse(path.read_text())) for path in outside}
    assert {path: found for path, found in asked.items() if found} == {}


@pytest.mark.parametrize(
    "code",
    [
        "import sqlalchemy as sa",
        "from sqlalchemy import select",
        "import sqlite3",
        "from server.store import schema",
        "from server.store.schema import over",
        "connection.execute(query)",
        "connection.exec_driver_sql('SELECT 1')",
        "sa.text('PRAGMA quick_check')",
    ],
)
def test_a_module_that_asks_the_database_is_found(code: str) -> None:
    assert asks_a_database(ast.parse(code))


def test_only_the_outermost_layer_asks_the_clock() -> None:
    askers = re.compile(r"\b(time\.time|time_ns|datetime\.now|date\.today|utcnow)\b")
    inner = [
        path
        for room in ("shared", "parsers", "server/store", "server/analytics", "server/intake")
        for path in (ROOT / room).rglob("*.py")
    ]
    assert [str(path.relative_to(ROOT)) for path in inner if askers.search(path.read_text())] == []


def test_a_comment_that_cites_a_document_cites_one_that_is_there() -> None:
    cited = re.compile(r"(?<![\w.-])(?:[\w.-]+/)*[\w-]+\.md\b")
    gone = []
    for room in ("shared", "parsers", "server", "docs", "tests", "templates"):
        for path in [*(ROOT / room).rglob("*.py"), *(ROOT / room).rglob("*.html"), *(ROOT / room).rglob("*.typ")]:
            comments = re.findall(r'#.*|"""[\s\S]*?"""|\{#[\s\S]*?#\}|//.*', path.read_text(encoding="utf-8"))
            named = [name for comment in comments for name in cited.findall(comment)]
            places = (ROOT, ROOT / "docs", path.parent)
            gone += [
                f"{path.relative_to(ROOT)}: {name}"
                for name in named
                if not any((place / name).is_file() for place in places)
            ]
    assert gone == []


def test_what_is_to_be_copied_and_changed_is_there() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    recipes = page.partition("## To add one more\n")[2].partition("\n## ")[0]
    paths = [name for name in re.findall(r"`([^`]+)`", recipes) if "/" in name]
    assert len(paths) > 20
    assert [path for path in paths if not (ROOT / path).exists()] == []


def test_every_mode_has_a_pattern_on_pages_and_on_paper() -> None:
    pages, paper = (ROOT / "templates" / name for name in ("macros.html", "parts.typ"))
    kinds = paper.read_text().partition("let kinds = (")[2].partition("kinds.at")[0]
    for mode in MODES:
        assert f'id="m-{mode}"' in pages.read_text() and re.search(rf"^    {mode}: ", kinds, re.M), mode
