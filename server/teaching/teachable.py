"""The files of this machine that may be taught over the pages."""

import os
from pathlib import Path

from server.config import Station
from server.intake.discovery import discover
from server.intake.log_names import PACKED
from shared.errors import UnusableError

LARGEST_FILE = 1 << 30
LONGEST_PATH = 4096


def teachable_files(station: Station) -> list[str]:
    """The station's own log files, and what lies beside them."""
    found, _ = discover([log.path for log in station.log], station.folder)
    return sorted({str(file.path) for file in found})


def teachable_file(station: Station, name: str) -> Path:
    """A log file that may be read over the pages: one in a folder of the station's logs, or in /var/log. Raises
    UnusableError where `name` is none.
    """
    path, readable = _place(station.folder, name)
    folders = {Path("/var/log"), station.folder, *(Path(file).resolve().parent for file in teachable_files(station))}
    if not any(path.is_relative_to(folder) for folder in folders):
        raise UnusableError(
            f"{path}: lies outside of the folders of the station's logs and of /var/log; run `airtally adopt` on the "
            "machine for it."
        )
    if not readable:
        raise UnusableError(f"{path}: is no file that can be read.")
    if path.stat().st_size > LARGEST_FILE:
        raise UnusableError(f"{path}: is larger than 1 GB; teach a part of it.")
    with path.open("rb") as file:
        binary = b"\0" in file.read(4096)
    if binary and path.suffix not in PACKED:
        raise UnusableError(f"{path}: holds no text.")
    return path


def _place(folder: Path, name: str) -> tuple[Path, bool]:
    """Where a name leads, and whether a readable file is there. Raises UnusableError where it can't be a path."""
    if any(ord(char) < 32 or 0xD800 <= ord(char) < 0xE000 for char in name) or len(name) > LONGEST_PATH:
        raise UnusableError("That is no path of a file: name the log as the system has it.")
    try:
        path = Path(name).expanduser()
        path = (path if path.is_absolute() else folder / path).resolve()
        return path, path.is_file() and os.access(path, os.R_OK)
    except (OSError, RuntimeError, ValueError):  # a part of it is too long, a loop of links, nobody's home
        raise UnusableError(f"{name[:100]}: is no path of a file here: name the log as the system has it.") from None
