"""A log whose folder moved, or whose path is spelt anew, is the log that it was: its name in the store follows it."""

import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from server.config import JOURNAL
from server.intake.check_points import CheckPoint, load_check_points
from server.intake.discovery import LogFile
from server.intake.log_names import straight
from server.intake.looks import still_holds
from server.store.engine import Store, reading, writing
from server.store.facts import raise_version
from server.store.logs import log_ids, rename_log
from shared.text import escaped


@dataclass(frozen=True)
class Moves:
    """What came of looking for logs that moved."""

    notes: list[str] = field(default_factory=list)  #: which did, a sentence each
    failed: dict[str, Exception] = field(default_factory=dict)  #: new logs of which that can't be told now, and why


def follow_moves(engine: Store, files: list[LogFile]) -> Moves:
    """Gives logs that lie elsewhere now their new names. A log that is still where it was has not moved, whatever
    another one begins with. Raises StoreError, FileNotFoundError.
    """
    now = {file.log_name for file in files}
    with reading(engine) as connection:
        before = log_ids(connection)
        gone = sorted(name for name in before.keys() - now if not name.startswith(JOURNAL))
        new = sorted(now - before.keys())
        if not new or not gone:
            return Moves()
        known = [row for row in load_check_points(connection) if row.log_name in gone]
    moved, failed = _matched(new, gone, files, known)
    if not moved:
        return Moves(failed=failed)
    with writing(engine) as connection:
        raise_version(connection)
        for was, name in moved.items():
            rename_log(connection, before[was], name)
    return Moves(list(_notes(moved)), failed)


def _notes(moved: dict[str, str]) -> Iterator[str]:
    for was, name in moved.items():
        if _straight_name(was) != name:
            yield f"{escaped(name)}: is the log that lay at {escaped(was)}; it goes on from there."


def _matched(
    new: list[str], gone: list[str], files: list[LogFile], known: list[CheckPoint]
) -> tuple[dict[str, str], dict[str, Exception]]:
    """By logs that are gone their new names; and of which new logs that can't be told now, and why."""
    moved: dict[str, str] = {}
    failed: dict[str, Exception] = {}
    for name in new:
        ours = [file for file in files if file.log_name == name]
        left = [was for was in gone if was not in moved]
        try:
            was = _spelt_otherwise(name, left) or _by_content(ours, known, left)
        except FileNotFoundError:
            raise
        except Exception as error:  # it is this log's, and the others are looked at
            failed[name] = error
            continue
        if was is not None:
            moved[was] = name
    return moved, failed


def _spelt_otherwise(name: str, left: list[str]) -> str | None:
    return next((was for was in left if _straight_name(was) == name), None)


def _straight_name(name: str) -> str:
    """A log's name as it is spelt today."""
    return str(straight(Path(name).parent) / os.path.basename(name))


def _by_content(files: list[LogFile], known: list[CheckPoint], left: list[str]) -> str | None:
    """The name of a log that is gone, one of whose files, with a line that was understood, these files hold whole."""
    for file in reversed(files):
        for row in known:
            same_place = (row.device, row.inode) == (file.device, file.inode)
            if row.log_name in left and (same_place or row.understood != 0) and still_holds(file, row):
                return row.log_name
    return None
