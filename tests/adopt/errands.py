"""Work for a process of its own, good and bad."""

import os
import time
from pathlib import Path
from typing import Any

from shared.errors import UnusableError


def double(n: int) -> int:
    return 2 * n


def refuse(what: str) -> None:
    raise UnusableError(f"{what}: no.")


def turn_for_ever(_: Any) -> None:
    while True:
        pass


def wait_for_ever(path: Path) -> None:
    path.write_text(str(os.getpid()))
    time.sleep(1000)


def take(megabytes: int) -> int:
    return len(bytearray(megabytes << 20))


def die(_: Any) -> None:
    os.abort()


def shout(_: Any) -> str:
    print("no answer at all")
    return "done"
