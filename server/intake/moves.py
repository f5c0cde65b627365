"""A log whose folder moved, or whose path is spelt anew, is the log that it was: its name in the store follows it."""

import os
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


def follow_moves(engine: Store, found: list[LogFile]) -> Moves:
    """Gives logs that lie elsewhere now their new names. A log that is still where it was has not moved, whatever
    another one begins with. Raises StoreError, FileNotFoundError.
    """
    now = {file.log_name for file in found}
    with reading(engine) as connection:
        before = log_ids(connection)
        new, gone = (
            sorted(now - before.keys()),
            sorted(name for name in before.keys() - now if not name.startswith(JOURNAL)),
        )
        if not new or not gone:
            return Moves()
        known = [row for row in load_check_points(connection) if row.log_name in gone]
    moves: dict[str, str] = {}
    failed: dict[str, Exception] = {}
    for name in new:
        files = [file for file in found if file.log_name == name]
        left = [old for old in gone if old not in moves]
        try:
            was = next((old for old in left if _straight_name(old) == name), None) or _by_content(files, known, left)
        except FileNotFoundError:
            raise
        except Exception as error:  # it is this log's, and the others are looked at
            failed[name] = error
            continue
        if was is not None:
            moves[was] = name
    if not moves:
        return Moves(failed=failed)
    with writing(engine) as connection:
        raise_version(connection)
        for was, name in moves.items():
            rename_log(connection, before[was], name)
    notes = [
        f"{escaped(name)}: is the log that lay at {escaped(was)}; it goes on from there."
        for was, name in moves.items()
        if _straight_name(was) != name
    ]
    return Moves(notes, failed)


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
