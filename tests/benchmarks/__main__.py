"""`make bench`: every bench whole, its results written to tests/benchmarks/results/ by the run itself.

usage: python -m tests.benchmarks [NAME ...]
"""

import sys
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path

from tests.benchmarks.machine import about

HERE = Path(__file__).parent


def main() -> None:
    """Run the named benches, or all."""
    wanted = sys.argv[1:] or sorted(path.stem.removeprefix("bench_") for path in HERE.glob("bench_*.py"))
    for name in wanted:
        print(f"{name} ...", flush=True)
        section = import_module(f"tests.benchmarks.bench_{name}").run(full=True)
        text = (
            f"<!-- written by python -m tests.benchmarks {name} on {datetime.now(UTC):%Y-%m-%d}"
            f" -->\n\n{section}\n\n{about()}\n"
        )
        (HERE / "results").mkdir(exist_ok=True)
        (HERE / "results" / f"{name}.md").write_text(text)
        print(section, flush=True)


if __name__ == "__main__":
    main()
