"""The house keeps its shape: functions that a reader can hold in the head. Complexity is McCabe's, as radon counts
it.
"""

import ast
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from radon.complexity import cc_visit

ROOT = Path(__file__).parents[1]
TANGLED, KNOT = 10, 20  # complexity above which a function is tangled, and above which it may not stand
LONGEST, LONGEST_MODULE = 60, 300  # lines
#: Share of all functions that may be tangled; lower it whenever it can be lowered.
TANGLED_SHARE = 0.04
MIGRATIONS = "server/store/migrations/"


@dataclass(frozen=True)
class Measured:
    where: str  #: file and name
    complexity: int
    lines: int


@lru_cache
def functions() -> tuple[Measured, ...]:
    """Every function and method of the product, those inside of others too, but for migrations."""
    measured: list[Measured] = []
    for room in ("shared", "parsers", "server"):
        for path in sorted((ROOT / room).rglob("*.py")):
            place = str(path.relative_to(ROOT))
            if not place.startswith(MIGRATIONS):
                text = path.read_text(encoding="utf-8")
                lengths = {
                    node.lineno: (node.end_lineno or node.lineno) - node.lineno + 1
                    for node in ast.walk(ast.parse(text))
                    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
                }
                for block in cc_visit(text):
                    measured += _measured(block, place, lengths)
    return tuple({one.where: one for one in measured}.values())


def _measured(block: Any, place: str, lengths: dict[int, int]) -> list[Measured]:
    if hasattr(block, "methods"):
        return [one for method in block.methods for one in _measured(method, place, lengths)]
    inner = [one for closure in block.closures for one in _measured(closure, place, lengths)]
    lines = next(lengths[line] for line in range(block.lineno, block.endline + 1) if line in lengths)
    return [Measured(f"{place} {block.name}", block.complexity, lines), *inner]


def test_few_functions_are_tangled() -> None:
    tangled = [one for one in functions() if one.complexity > TANGLED]
    assert len(functions()) > 1000
    assert len(tangled) <= TANGLED_SHARE * len(functions()), sorted(tangled, key=lambda one: -one.complexity)[:20]


def test_no_function_is_a_knot() -> None:
    assert {one.where for one in functions() if one.complexity > KNOT} == set()


def test_no_function_is_longer_than_a_screen() -> None:
    assert {one.where for one in functions() if one.lines > LONGEST} == set()


def test_no_module_is_longer_than_its_job_takes() -> None:
    lengths = {
        str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines())
        for room in ("shared", "parsers", "server")
        for path in (ROOT / room).rglob("*.py")
    }
    assert {place for place, lines in lengths.items() if lines > LONGEST_MODULE} == set()
