"""Dialect files that were taught, as they are written."""

from pathlib import Path

from shared.errors import AirtallyError
from shared.private import write_private


def write_dialect(path: Path, text: str) -> None:
    """Whole or not at all, for its owner alone: its samples are lines of a log. Raises AirtallyError."""
    try:
        write_private(path, text)
    except OSError as error:
        raise AirtallyError(f"{path}: can't be written ({error.strerror}); see who owns the folder.") from error
