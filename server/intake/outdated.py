"""Which lines were read with a dialect, or a zone, that has changed since, or were all unread: `airtally ingest
--again` reads them again.
"""

import os
from collections import defaultdict
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

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
    def sentence(self) -> str:
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
    outdated = (_of_log(row, read[row.id], station) for row in all_logs(connection))
    return [lines for lines in outdated if lines is not None]


def _of_log(row: LogRow, read: dict[str, int], station: Station) -> ReadAgain | None:
    """`read`: lines that the log's files still hold, by the meaning that they were read with."""
    now = _meaning_now(row, station)
    if now is None:
        return None
    changed = _read_otherwise(read, now)
    if changed:
        what, how = _change(max(changed, key=lambda meaning: changed[meaning]), now)
        sentence = f"were read {how}: `airtally ingest --again` reads them again."
        return _read_again(row.name, sum(changed.values()), what, sentence)
    if row.lines and row.unread == row.lines and any(read.values()):
        sentence = f"are all unread: {now.name} does not fit. Mend it, then `airtally ingest --again` reads them again."
        return _read_again(row.name, sum(read.values()), "unread", sentence)
    return None


class _Meaning(NamedTuple):
    """parsers.reading.Reader.meaning"""

    name: str
    zone: str
    digest: str


def _meaning_now(row: LogRow, station: Station) -> _Meaning | None:
    """None where the station file does not name the log, or its dialect can't be used, which says so itself."""
    setting = next((log for log in station.log if covers(station.folder, log.path, row.name)), None)
    if setting is None:
        return None
    try:
        return _Meaning(*_meaning(setting.dialect, station.folder).rsplit(" ", 2))
    except (DialectError, OSError):
        return None


def _read_otherwise(read: dict[str, int], now: _Meaning) -> dict[_Meaning, int]:
    """Lines by the meaning that they were read with, where that is another one than now."""
    before = {_Meaning(*how.rsplit(" ", 2)): lines for how, lines in read.items() if lines and how}
    return {meaning: lines for meaning, lines in before.items() if meaning[1:] != now[1:]}


def _change(was: _Meaning, now: _Meaning) -> tuple[str, str]:
    """What has changed, and how lines were read before."""
    if was.digest == now.digest:
        return "zone", f"in the zone {was.zone}, and {now.name} says {now.zone} now"
    if was.name != now.name:
        return "dialect", f"with {was.name}, and the station file names {now.name} now"
    return "dialect", f"before {now.name} was changed"


def _read_again(log: str, lines: int, why: str, sentence: str) -> ReadAgain:
    return ReadAgain(log, lines, why, f"{grouped(lines)} {'line' if lines == 1 else 'lines'} {sentence}")


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
