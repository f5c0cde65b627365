"""Which lines were read with a dialect, or a zone, that has changed since, or were all unread: `airtally ingest
--again` reads them again.
"""

import os
from collections import defaultdict
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from server.config import Station
from server.intake.log_names import covers
from server.store.engine import Connection
from server.store.files import lines_read_with
from server.store.logs import LogRow, all_logs
from shared.errors import DialectError
from shared.numbers import grouped
from shared.text import escaped


@dataclass(frozen=True)
class ReadAgain:
    """Lines of a log that are worth reading again."""

    log: str  #: its name in the store
    lines: int  #: that their files still hold
    why: str  #: what has changed: `dialect` or `zone`; `unread` where no line of the log was understood
    says: str  #: a sentence, with what to do; text from outside

    @property
    def told(self) -> str:
        """The sentence with the log's name, for a terminal."""
        return f"{escaped(self.log)}: {escaped(self.says)}"


def to_read_again(connection: Connection, station: Station) -> list[ReadAgain]:
    """One for each log where it is so, by name. What an older version read tells nothing about its dialect."""
    rows = lines_read_with(connection)
    there = {path for path in {path for _, path, _, _ in rows} if os.path.exists(path)}
    read: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for log_id, path, how, lines in rows:
        if path in there:
            read[log_id][how] += lines
    found = (_of_log(row, read[row.id], station) for row in all_logs(connection))
    return [one for one in found if one is not None]


def _of_log(row: LogRow, read: dict[str, int], station: Station) -> ReadAgain | None:
    setting = next((one for one in station.log if covers(station.folder, one.path, row.name)), None)
    if setting is None:
        return None
    try:
        name, zone, digest = _meaning(setting.dialect, station.folder).rsplit(" ", 2)
    except (DialectError, OSError):
        return None  # it says so itself
    changed = {how: lines for how, lines in read.items() if lines and how and how.rsplit(" ", 2)[1:] != [zone, digest]}
    if changed:
        was, was_zone, was_digest = max(changed, key=lambda how: changed[how]).rsplit(" ", 2)
        if was_digest == digest:
            why, before = "zone", f"in the zone {was_zone}, and {name} says {zone} now"
        else:
            why, before = (
                "dialect",
                f"with {was}, and the station file names {name} now" if was != name else f"before {name} was changed",
            )
        return _said(row.name, changed, why, f"were read {before}: `airtally ingest --again` reads them again.")
    if row.lines and row.unread == row.lines and any(read.values()):
        return _said(
            row.name,
            read,
            "unread",
            f"are all unread: {name} does not fit. Mend it, then `airtally ingest --again` reads them again.",
        )
    return None


def _said(log: str, read: dict[str, int], why: str, what: str) -> ReadAgain:
    lines = sum(read.values())
    return ReadAgain(log, lines, why, f"{grouped(lines)} {'line' if lines == 1 else 'lines'} {what}")


def _meaning(dialect: str, folder: Path) -> str:
    from parsers.activity import ActivityReader  # here, as frames take long to import and figures ask for no dialect
    from parsers.dialect import dialect_path

    if dialect == "activity":
        return ActivityReader().meaning
    path = dialect_path(dialect, folder)
    return _meaning_of(path, path.stat().st_mtime_ns)


@lru_cache(maxsize=64)
def _meaning_of(path: Path, _changed: int) -> str:
    from parsers.dialect import load_dialect, reader

    return reader(load_dialect(path)).meaning
