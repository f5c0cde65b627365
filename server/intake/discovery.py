"""The log files of a station that are there now."""

import os
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatch
from functools import lru_cache
from pathlib import Path

from server.intake.log_names import PACKED, dates_in, log_name, name_parts, straight
from server.intake.troubles import Trouble
from shared.text import escaped


@dataclass(frozen=True)
class LogFile:
    """A log file that is there now."""

    path: Path
    setting: int  #: which [[log]] of the station file it belongs to, from 0
    log_name: str
    age_key: tuple[str, int, str, int]  #: sorts the files of one log from the oldest to the live one
    live: bool  #: the host may still be writing it: not a rotated sibling, not packed
    device: int
    inode: int
    size: int
    mtime_ns: int

    @property
    def packed(self) -> bool:
        return self.path.suffix in PACKED

    @property
    def stamp(self) -> tuple[int, int, int, int]:
        """Changes when the file does."""
        return self.device, self.inode, self.size, self.mtime_ns


def discover(settings: list[str], folder: Path) -> tuple[list[LogFile], list[Trouble]]:
    """All files of the [[log]] paths (files or globs, relative to `folder`), oldest first within a log, each content
    once however many paths lead to it; and what could not be looked at, while the rest is.
    """
    known: set[tuple[int, int]] = set()
    straightened = lru_cache(straight)
    files: list[LogFile] = []
    troubles: list[Trouble] = []
    for number, setting in enumerate(settings):
        if not setting:  # a journal
            continue
        try:
            paths = [straightened(path.parent) / path.name for path in _matching(folder / setting, setting, troubles)]
            for path in sorted(paths, key=_links_last):
                file = _looked_at(path, number, troubles)
                if file is not None and (file.device, file.inode) not in known:
                    known.add((file.device, file.inode))
                    files.append(file)
        except Exception as error:  # whatever it is, the other logs are looked for
            troubles.append(Trouble(setting, f"{escaped(setting)}: can't be looked for ({_why(error)})."))
    return sorted(files, key=lambda file: (file.setting, file.log_name, file.age_key)), troubles


def _links_last(path: Path) -> tuple[bool, Path]:
    """A file before the links to it, so that its log has its own name."""
    return path.is_symlink(), path


def _why(error: Exception) -> str:
    return escaped(getattr(error, "strerror", None) or f"{type(error).__name__}: {error}")


def _looked_at(path: Path, setting: int, troubles: list[Trouble]) -> LogFile | None:
    try:
        status = path.stat()
    except FileNotFoundError:
        return None
    except OSError as error:
        troubles.append(Trouble(log_name(path), f"{escaped(str(path))}: can't be read ({_why(error)})."))
        return None
    if stat.S_ISREG(status.st_mode):
        return _log_file(path, setting, status)
    if not stat.S_ISDIR(status.st_mode):
        says = f"{escaped(str(path))}: is a pipe, a device or a socket; a log file was expected, and it is not read."
        troubles.append(Trouble(log_name(path), says))
    return None


def _matching(pattern: Path, setting: str, troubles: list[Trouble]) -> Iterator[Path]:
    """Files that match, and rotated or packed siblings of what matches, whether or not that still exists. Folders that
    can't be looked into are told, and the others are.
    """
    for folder in _folders(pattern, setting, troubles):
        names = _names_in(folder, setting, troubles)
        if not _is_glob(pattern.name) and pattern.name in names and os.path.isdir(folder / pattern.name):
            place = escaped(str(folder / pattern.name))
            troubles.append(
                Trouble(setting, f"{place}: is a folder; a log file was expected, or a glob such as *.log.")
            )
        yield from (folder / name for name in names if _is_sibling(name, pattern.name))


def _names_in(folder: Path, setting: str, troubles: list[Trouble]) -> list[str]:
    try:
        with os.scandir(folder) as entries:
            return [entry.name for entry in entries]
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        troubles.append(Trouble(setting, f"{escaped(str(folder))}: can't be looked into ({_why(error)})."))
        return []


def _is_glob(text: str) -> bool:
    return any(mark in text for mark in "*?[")


def _is_sibling(name: str, pattern: str) -> bool:
    base, _mark, packing, _dated = name_parts(name)
    return any(fnmatch(spelling, pattern) for spelling in (name, name.removesuffix(packing), base))


def _folders(pattern: Path, setting: str, troubles: list[Trouble]) -> list[Path]:
    """The folders that a path or glob names. A folder whose own folder can't be searched is told when it is looked
    into.
    """
    if not _is_glob(str(pattern.parent)):
        return [pattern.parent]
    try:
        folders = Path(pattern.anchor or ".").glob(str(pattern.parent.relative_to(pattern.anchor)))
        return [path for path in folders if os.path.isdir(path)]
    except OSError as error:
        troubles.append(
            Trouble(setting, f"{escaped(str(error.filename or pattern.parent))}: can't be looked into ({_why(error)}).")
        )
        return []


def file_at(path: Path) -> LogFile:
    """A file as it lies there, of no [[log]]. Raises OSError."""
    return _log_file(path, 0, path.stat())


def _log_file(path: Path, setting: int, status: os.stat_result) -> LogFile:
    base, mark, packing, _dated = name_parts(path.name)
    numbered = -int(mark) if mark.isdigit() and len(mark) <= 4 else 0
    live = not mark and not packing
    return LogFile(
        path=path,
        setting=setting,
        log_name=log_name(path),
        age_key=(dates_in(base), int(not mark), "" if numbered else re.sub(r"\D", "", mark), numbered),
        live=live,
        device=status.st_dev,
        inode=status.st_ino,
        size=status.st_size,
        mtime_ns=status.st_mtime_ns,
    )
