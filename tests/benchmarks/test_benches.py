"""The benches in their short form: they run, and the ratios that hold whatever the machine are held. Whole by `make
bench`.
"""

import os
import shutil
import time
from pathlib import Path

import pytest

from tests.benchmarks import bench_backfill, bench_explore, bench_pages

pytestmark = pytest.mark.bench


def test_a_page_costs_what_its_window_holds_and_not_what_the_store_holds(tmp_path: Path) -> None:
    small, large = bench_pages.measure((1, 5), 9, tmp_path / "demo", time.process_time)
    assert large.overs > 4.5 * small.overs
    assert min(large.made) < 1.6 * min(
        small.made
    )  # five times the store; the least processor time of each, as others may be busy too


def test_a_look_at_a_few_weeks_costs_no_more_than_a_few_weeks_figures(tmp_path: Path) -> None:
    section = bench_explore.measured(bench_explore.built(tmp_path, 3), 3)
    ratios = {
        row.split(" | ")[0].strip("| "): float(row.split(" | ")[2].strip(" |")) for row in section.splitlines()[6:]
    }
    assert 0 < ratios["numbers of an evening"] < 3 and ratios["numbers of 3 weeks"] < 5


def test_a_backfill_gives_the_rows_that_were_written_beside_the_script(tmp_path: Path) -> None:
    if not (shutil.which("mawk") and shutil.which("sqlite3")):
        if os.environ.get("CI"):
            pytest.fail("mawk and sqlite3 are not installed: .ci/run must install them")
        pytest.skip("mawk and sqlite3 are not installed here (Debian: apt-get install mawk sqlite3)")
    written, times = bench_backfill.measure(
        bench_backfill.SHORT_LINES, 1, tmp_path
    )  # asserts that both find every over
    assert written.overs > 50_000 and len(times) == 1


def test_the_table_of_faults_goes_between_its_marks_and_leaves_the_rest(tmp_path: Path) -> None:
    from tests.intake.faults import BEGIN, END, Outcome, table, write_into

    readme = tmp_path / "README.md"
    readme.write_text(f"before\n{BEGIN}\nold\n{END}\nafter\n")
    write_into(readme, table({"a fault": Outcome(2, 1300, 0, 1, 2)}))
    lines = readme.read_text().splitlines()
    assert (
        lines[0] == "before"
        and lines[-1] == "after"
        and "| a fault | 2 | 1,300 | 0 | 1 | 2 |" in lines
        and "old" not in lines
    )


def test_simulated_years_of_reception_are_told_as_promised() -> None:
    from tests.benchmarks import bench_reception

    assert "| 10 | -6 dB | 5 | 5 | 5 | 5 |" in bench_reception.run(full=False)
