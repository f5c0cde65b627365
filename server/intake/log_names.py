"""Names of log files: which log a file belongs to, and which [[log]] path a log."""

import os
import re
from fnmatch import fnmatch
from pathlib import Path

PACKED = (".gz", ".xz", ".zst", ".bz2")

_ROTATED = re.compile(
    r"^(?P<base>.+?)[.-](?P<mark>\d{1,4}|\d{8}(?:[-_.T]?\d{2,10})?|\d{4}-\d{2}(?:-\d{2})?(?:[-_.T]?\d{2,10})?)$"
)
_DATED = re.compile(
    r"(?<!\d)((?:19|20)\d{2}[-_.]?(?:0[1-9]|1[0-2])(?:[-_.]?(?:0[1-9]|[12]\d|3[01]))?(?:[-_T]?[0-2]\d)?)(?!\d)"
)


def name_parts(name: str) -> tuple[str, str, str, bool]:
    """Of a file name: the name without packing and rotation, the rotation mark, the packing, and whether the name
    itself is dated.
    """
    packing = next((suffix for suffix in PACKED if name.endswith(suffix)), "")
    bare = name.removesuffix(packing)
    rotated = _ROTATED.match(bare)
    base, mark = (rotated["base"], rotated["mark"]) if rotated else (bare, "")
    return base, mark, packing, bool(_DATED.search(base))


def log_name(path: Path) -> str:
    """The log that a file belongs to: its path, in one spelling, without rotation, packing and date, so that dated
    files continue one another.
    """
    base, _mark, _packing, _dated = name_parts(path.name)
    return stored_text(straight(path.parent) / _DATED.sub("*", base))


def covers(folder: Path, setting: str, log: str) -> bool:
    """Whether a log of this name belongs to a [[log]] path."""
    if log == setting:
        return True
    pattern = folder / setting
    return fnmatch(log, log_name(pattern)) or fnmatch(log, stored_text(straight(pattern.parent) / pattern.name))


def straight(folder: Path) -> Path:
    """A folder by its one name, whatever links and dots lead to it."""
    return Path(os.path.realpath(folder))


def stored_text(path: Path) -> str:
    """A path as the store can hold it: bytes of a name that are no UTF-8 are spelt as `\\xff` is."""
    return str(path).encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")


def dates_in(base: str) -> str:
    """The digits of the dates in a name without rotation, by which dated files are sorted."""
    return "".join(re.sub(r"\D", "", date) for date in _DATED.findall(base))
