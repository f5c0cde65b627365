"""What intake made of each log of a station since it was first read, as the Intake page shows it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from server.config import Station
from server.intake.log_names import covers
from server.intake.outdated import ReadAgain, to_read_again
from server.intake.troubles import Trouble, load_troubles
from server.store.engine import Connection
from server.store.files import files_of_log, waiting_files
from server.store.lines import line_stamps, lines_since, newest_unread
from server.store.logs import LogRow, all_logs, loose_ends
from shared.zones import DAY, HOUR, SECOND

GAPS_OVER = 28 * DAY  # how far back gaps are looked for
GAP_S = 3600.0  # what is called a gap where quiet_log_s is not set
EXAMPLES = 8
LATELY = 7 * DAY  # of which the first page tells how well a log is read
STRAY = DAY  #: a stamp further than this beyond the clock is a clock that was wrong
UNREAD_NOW, FEW_UNREAD = 0.1, 5  # share of the latest lines that is much, and how many are too few to say so


@dataclass(frozen=True)
class FileRead:
    """One file of a log, as far as it was read."""

    path: str
    lines: int
    trouble: str | None = None  #: a sentence, where it could not be read to its end


@dataclass(frozen=True)
class LogRead:
    """What intake made of one log, since it was first read."""

    name: str
    dialect: str
    lines: int
    understood: int
    ignored: int
    unread: int
    orphans: int
    doubtful: int
    first_us: int | None
    last_us: int | None
    gaps: Sequence[tuple[int, int]] = ()  #: blind stretches, [start, end), oldest first
    examples: Sequence[tuple[int | None, str]] = ()  #: unread lines with the instant they were written, newest first
    files: Sequence[FileRead] = ()
    troubles: Sequence[str] = ()  #: what kept it from being read at the last pass, a sentence each; text from outside
    late_after_s: float | None = (
        None  #: silence of this log that is out of the ordinary by the settings; None: they don't say
    )
    named: bool = True  #: whether the station file still names it
    lately: tuple[int, int] = (0, 0)  #: lines stamped in the last seven days, and how many of them are unread
    latest: tuple[int, int] = (0, 0)  #: the same of the last hour before its last line
    again: ReadAgain | None = None  #: lines that were read otherwise than they would be now
    #: files that wait until they can be told from another one, a sentence each; text from outside
    waiting: Sequence[str] = ()

    @property
    def unread_now(self) -> bool:
        """Whether much of what came last could not be read, whatever the lines before were like."""
        lines, unread = self.latest
        return unread >= FEW_UNREAD and unread > UNREAD_NOW * lines


def logs_read(connection: Connection, station: Station, now_us: int) -> list[LogRead]:
    """Every log that was read, then those that the station file names and of which nothing was found."""
    troubles = load_troubles(connection)
    again = {outdated.log: outdated for outdated in to_read_again(connection, station)}
    waiting = waiting_files(connection)
    read = [
        replace(log, again=again.get(log.name), waiting=[says for name, says in waiting if name == log.name])
        for log in (_log_read(connection, station, row, now_us) for row in all_logs(connection))
    ]
    every = [*read, *_never_read(station, {log.name for log in read}, troubles)]
    return [replace(log, troubles=[it.says for it in troubles if _is_about(it, log.name, station)]) for log in every]


def _never_read(station: Station, read: set[str], troubles: Sequence[Trouble]) -> Iterator[LogRead]:
    """Logs without a line: those that can't be read, and each [[log]] path of which no log is known."""
    unread = {trouble.log for trouble in troubles} - read - {""}
    for path, dialect in {log.place(station.folder): log.dialect for log in reversed(station.log)}.items():
        covered = {name for name in read | unread if covers(station.folder, path, name)}
        troubled = (covered & unread) - {path}
        for name in sorted(troubled or ({path} if not covered & read else ())):
            yield LogRead(name, dialect, 0, 0, 0, 0, 0, 0, None, None)


def _is_about(trouble: Trouble, log: str, station: Station) -> bool:
    """Whether it keeps this log from being read: told of the log itself, of a [[log]] path that covers it, or of
    all.
    """
    paths = {given.place(station.folder) for given in station.log}
    return trouble.log in ("", log) or (trouble.log in paths and covers(station.folder, trouble.log, log))


def _log_read(connection: Connection, station: Station, row: LogRow, now_us: int) -> LogRead:
    orphans, doubtful = loose_ends(connection, row.id)
    last = min(row.last_us, now_us + STRAY) if row.last_us is not None else None
    return LogRead(
        name=row.name,
        dialect=row.dialect,
        lines=row.lines,
        understood=row.understood,
        ignored=row.ignored,
        unread=row.unread,
        orphans=orphans,
        doubtful=doubtful,
        first_us=row.first_us,
        last_us=row.last_us,
        gaps=[] if last is None else _gaps(connection, row.id, last, station.timers.quiet_log_s or GAP_S),
        examples=[(line.at_us, line.text) for line in newest_unread(connection, row.id, EXAMPLES)],
        files=[FileRead(*file) for file in files_of_log(connection, row.id)],
        lately=lines_since(connection, row.id, now_us - LATELY),
        latest=(0, 0) if last is None else lines_since(connection, row.id, last - HOUR),
        late_after_s=station.timers.quiet_log_s,
        named=any(covers(station.folder, log.place(station.folder), row.name) for log in station.log),
    )


def _gaps(connection: Connection, log_id: int, last_us: int, longest_s: float) -> list[tuple[int, int]]:
    """Where the lines of GAPS_OVER up to an instant lie further apart than that."""
    stamps = line_stamps(connection, last_us - GAPS_OVER, last_us + 1, log_id=log_id)
    long = np.diff(stamps) > longest_s * SECOND
    return [(int(start), int(end)) for start, end in zip(stamps[:-1][long], stamps[1:][long], strict=True)]
