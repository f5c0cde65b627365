"""The report's bench in its short form: memory is held, and the time as a ratio to what its libraries take to be
imported.
"""

import statistics
import sys
from pathlib import Path

import pytest

from tests.benchmarks import bench_report
from tests.benchmarks.installed import installed

pytestmark = pytest.mark.bench


def test_a_report_out_of_a_large_store_takes_little_more_than_its_imports_and_under_200_mb(tmp_path: Path) -> None:
    overs = bench_report.build(tmp_path, 1.5)
    assert overs > 200_000
    env = installed()
    bench_report.report(tmp_path, env)  # makes the tallies
    spent, imports = [], []
    for _ in range(3):
        _, processor, memory = bench_report.report(tmp_path, env)
        spent.append(processor)
        assert memory < bench_report.MB_AT_MOST
        imports.append(
            bench_report.measured(sys.executable, "-c", "import numpy, polars, sqlalchemy, pydantic", env=env)[1]
        )
    assert statistics.median(spent) < 3.0 * statistics.median(imports)  # 1.6 times on a machine with nothing else to do
