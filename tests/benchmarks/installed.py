"""The program as it runs where it is installed: its modules compiled once, as pip does it, whatever this shell says of bytecode."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def installed(place: Path) -> dict[str, str]:
    """The environment of such runs; the compiled modules lie in `place`."""
    env = {**os.environ, "PYTHONPYCACHEPREFIX": str(place / "compiled")}
    env.pop("PYTHONDONTWRITEBYTECODE", None)
    subprocess.run([sys.executable, "-m", "compileall", "-q", "server", "parsers", "shared"], check=True, cwd=ROOT, env=env)
    return env
