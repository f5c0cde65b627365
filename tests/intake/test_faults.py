"""The faults of tests/intake/faults.py in their short form: nothing lost, nothing doubled, nothing impossible."""

from pathlib import Path

import pytest

from tests.intake.faults import BEGIN, END, Kind, kinds, try_fault


@pytest.mark.parametrize("kind", kinds(), ids=lambda kind: kind.play.__name__)
def test_a_fault_loses_and_doubles_no_line_and_gives_no_impossible_answer(kind: Kind) -> None:
    found = try_fault(kind, kind.short, seed=1)
    assert (found.lost, found.doubled, found.impossible) == (0, 0, 0), found.wrong
    assert found.trials == kind.short and found.lines > 0


def test_the_readme_has_a_row_for_every_fault_and_no_other() -> None:
    text = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    rows = text.partition(BEGIN)[2].partition(END)[0].strip().splitlines()[2:]
    assert [row.split(" | ")[0].removeprefix("| ") for row in rows] == [kind.name for kind in kinds()]
