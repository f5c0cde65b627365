"""The program as it runs where it is installed: its modules compiled once, as pip does it, whatever this shell says of
bytecode.
"""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def installed() -> dict[str, str]:
    """The environment of such runs."""
    env = {
        name: value
        for name, value in os.environ.items()
        if name not in ("PYTHONDONTWRITEBYTECODE", "PYTHONPYCACHEPREFIX")
    }
    subprocess.run(
        [sys.executable, "-m", "compileall", "-q", "server", "parsers", "shared"], check=True, cwd=ROOT, env=env
    )
    return env
