"""Every fault of tests/intake/faults.py, many times; the table goes into the README."""

import time
from pathlib import Path

from tests.intake.faults import Outcome, kinds, table, try_fault, write_into

README = Path(__file__).parents[2] / "README.md"


def run(full: bool) -> str:
    """The section of the results: the table, and what was wrong, in words."""
    outcomes: dict[str, Outcome] = {}
    begun = time.monotonic()
    for kind in kinds():
        outcomes[kind.name] = try_fault(kind, kind.full if full else kind.short, seed=0)
    if full:
        write_into(README, table(outcomes))
    wrong = [f"- {name}: {said}" for name, outcome in outcomes.items() for said in outcome.wrong]
    return "\n".join(
        ["## Faults tried", "", table(outcomes), "", *wrong, f"All of it took {time.monotonic() - begun:.0f} s."]
    )
