"""Logs that were uploaded to be taught: private files beside the store, kept as long as their lesson, and taken away by
whoever comes next where a process was killed over them.
"""

import os
import tempfile
import time
import weakref
from pathlib import Path

from server.store.engine import Store, sqlite_file
from shared.scratch import Scratch, in_use, sweep

PREFIX = ".airtally-taught-"
UNMARKED_S = 86_400.0  # how long those of a version that did not mark them are left alone
FORMER_PREFIX = "airtally-taught-"  # in the system's folder for such files


class Uploads:
    """Those of one teacher. What others left behind is taken away first."""

    def __init__(self, engine: Store) -> None:
        self._place = _place(engine)
        self._scratch: Scratch | None = None
        take_away_left(engine)

    @property
    def folder(self) -> Path | None:
        """Where they lie; None before the first."""
        return self._scratch.path if self._scratch is not None else None

    def keep(self, name: str, data: bytes) -> Path:
        """A file with this content. Raises OSError."""
        if self._scratch is None:
            self._scratch = Scratch(PREFIX, self._place)
            weakref.finalize(self, self._scratch.close)
        path = self._scratch.path / name
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(data)
        return path


def take_away_left(engine: Store) -> int:
    """Take away uploads whose process is gone; of how many."""
    system = Path(tempfile.gettempdir())
    return sweep(PREFIX, _place(engine)) + sweep(FORMER_PREFIX, system, unmarked_before_s=time.time() - UNMARKED_S)


def still_kept(engine: Store) -> list[Path]:
    """Where a running `serve` keeps uploads."""
    return in_use(PREFIX, _place(engine))


def _place(engine: Store) -> Path:
    file = sqlite_file(engine)
    return file.absolute().parent if file is not None else Path(tempfile.gettempdir())
