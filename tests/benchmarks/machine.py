"""What the benches ran on, for the head of each result."""

import os
import platform
import sqlite3
from importlib.metadata import version
from pathlib import Path

NAMED = ("polars", "numpy", "SQLAlchemy", "fastapi", "pandas")


def about() -> str:
    """Processor, cores, memory, Python and libraries, on one line."""
    model = "unknown processor"
    for line in Path("/proc/cpuinfo").read_text().splitlines():
        if line.startswith("model name"):
            model = line.partition(":")[2].strip()
            break
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    libraries = ", ".join(f"{name} {version(name)}" for name in NAMED)
    return (
        f"{model}, {os.cpu_count()} cores, {memory:.0f} GiB; Python {platform.python_version()}, SQLite"
        f" {sqlite3.sqlite_version}, {libraries}."
    )
