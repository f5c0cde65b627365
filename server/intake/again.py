"""Read logs again, with the dialects and zones as they stand: what their files still hold is replaced, what they no
longer hold stays.

The logs are read into a store of its own beside the station's, by the same intake; nobody has to wait meanwhile. Then,
in one transaction on the station's store, what came in between is read too, the rows of the files that are there are
taken out, and the new ones are put in. Whoever follows the logs finds check-points that are as far as his were, and
goes on. Killed before the commit, nothing has changed."""

import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from server.config import Station
from server.intake.check_points import CheckPoint, load_check_points
from server.intake.claims import Claims
from server.intake.clock_changes import STEPPED
from server.intake.context import FAR, Progress
from server.intake.discovery import LogFile, discover
from server.intake.ingest import Intake
from server.intake.log_names import covers, log_name
from server.intake.moves import follow_moves
from server.store.engine import Connection, Store, open_store, reading, sqlite_file, writing
from server.store.facts import raise_version, read_fact, read_version, set_fact
from server.store.replacing import Handed, Part, again, keep_open, overs_elsewhere, replace_rows
from shared.errors import UnusableError
from shared.scratch import Scratch, sweep

LOOKS = 20  # while a host writes, and another airtally stores
PREFIX = ".airtally-again-"


@dataclass(frozen=True)
class LogAgain:
    """What reading a log again changes, or would change."""

    log: str
    lines: int  #: that are read again
    overs: tuple[int, int]  #: finished ones of these lines, before and after
    unread: tuple[int | None, int]  #: of these lines; None where an older version did not keep it by file
    left: int  #: lines that are stored and that no file holds any more, or can be read now: they stay
    elsewhere: int = 0  #: finished overs that start at another instant than any did before


class _Behind(Exception):
    """Somebody has read further in the meantime."""


def with_logs(station: Station, path: str | None) -> Station:
    """The station with the [[log]]s that a path names: as it is written there, or a file of theirs. Raises
    UnusableError.
    """
    if path is None:
        return station
    name = log_name(Path(path).absolute())
    chosen = [log for log in station.log if log.path == path] or [
        log for log in station.log if covers(station.folder, log.path, name)
    ]
    if not chosen:
        named = ", ".join(log.path for log in station.log if log.path) or "none"
        raise UnusableError(
            f"--log {path}: a path of a [[log]] in {station.path} was expected, or a file of one; named there: {named}."
        )
    return station.model_copy(update={"log": chosen})


def read_again(
    engine: Store,
    station: Station,
    *,
    dry_run: bool = False,
    progress: Progress | None = None,
    now_us: Callable[[], int] = lambda: FAR,
) -> list[LogAgain]:
    """Read the station's logs again, and say by log what that changed; `dry_run`: what it would change. Raises
    StoreError, DialectError, UnusableError.
    """
    station = station.model_copy(
        update={"log": [log for log in station.log if log.path]}
    )  # what a journal still holds stays as it was read
    found, _ = discover([log.path for log in station.log], station.folder)
    if not dry_run:
        follow_moves(engine, found)
    with _beside(engine) as scratch:
        with reading(engine) as connection:
            parts = _parts(found, load_check_points(connection), None)
            handed = keep_open(connection, scratch, parts)
        intake = Intake(scratch, station, now_us=now_us)
        for look in range(LOOKS):
            _catch_up(intake, progress)
            try:
                return (
                    _would_change(engine, scratch, station)
                    if dry_run
                    else _change(engine, scratch, station, intake, handed)
                )
            except _Behind:
                if look == LOOKS - 1:
                    raise
    raise AssertionError("the last look returns or raises")


def _catch_up(intake: Intake, progress: Progress | None = None) -> None:
    while intake.catch_up(progress).more:
        pass


def _would_change(engine: Store, scratch: Store, station: Station) -> list[LogAgain]:
    with reading(engine) as connection, reading(scratch) as new:
        return [_told(connection, new, part) for part in _matched(connection, new, station)]


def _change(engine: Store, scratch: Store, station: Station, intake: Intake, handed: Handed) -> list[LogAgain]:
    """All of it in one transaction. Raises _Behind where somebody who is not held up by it (PostgreSQL) has stored more
    meanwhile.
    """
    with reading(engine) as connection:
        before = read_version(connection)
    _catch_up(intake)
    with writing(engine) as connection:
        if read_version(connection) != before:
            raise _Behind
        with reading(scratch) as new:
            parts = _matched(connection, new, station)
            told = [_told(connection, new, part) for part in parts]
            raise_version(connection, before)
            replace_rows(connection, new, parts, handed)
            for part in parts:
                set_fact(connection, STEPPED + part.log, read_fact(new, STEPPED + part.log) or "")
        return told


def _matched(connection: Connection, new: Connection, station: Station) -> list[Part]:
    found, _ = discover([log.path for log in station.log], station.folder)
    return _parts(found, load_check_points(connection), load_check_points(new))


def _parts(found: list[LogFile], before: list[CheckPoint], after: list[CheckPoint] | None) -> list[Part]:
    """By log, which check-points are replaced by which; without `after`, which will be. One is replaced only where all
    that was read of it was read again.
    """
    claims, fresh = Claims(found, before), Claims(found, after or [])
    parts: dict[str, Part] = {file.log_name: Part(file.log_name) for file in found}
    gone = {row.id: row for row in before}
    for file in found:
        claim, new = claims.of(file), fresh.of(file)
        now = new.check_point if new else None
        if after is not None and now is None:
            continue
        held = claim.check_point if claim and not claim.put_back else None
        whole = {row.id: row for row in [*([held] if held else []), *claims.held_whole_by(file)] if row.id in gone}
        if now is not None and held is not None and now.fingerprint.offset < held.fingerprint.offset:
            continue
        if not whole and (
            claim is None or claim.put_back
        ):  # it waits, or holds less than was read of it: that stays as it was read
            continue
        part = parts[file.log_name]
        if now is not None:
            part.pairs.append((held if held is not None and held.id in whole else None, now))
        part.replaced += whole.values()
        for id_ in whole:
            del gone[id_]
    for row in gone.values():
        if row.log_name in parts:
            parts[row.log_name].left.append(row)
    return [part for part in parts.values() if part.pairs or part.replaced]


def _told(connection: Connection, new: Connection, part: Part) -> LogAgain:
    overs, lines, unread = again(connection, new, part)
    elsewhere = overs_elsewhere(connection, new, part)
    return LogAgain(part.log, lines, overs, unread, sum(row.lines for row in part.left), elsewhere)


@contextmanager
def _beside(engine: Store) -> Iterator[Store]:
    """A store beside the station's, private as that one is, and gone afterwards; those that a kill left behind are
    taken away too.
    """
    file = sqlite_file(engine)
    place = file.parent if file is not None else Path(tempfile.gettempdir())
    sweep(PREFIX, place)
    with closing(Scratch(PREFIX, place)) as folder:
        scratch = open_store(f"sqlite:///{folder.path}/again.db")
        try:
            yield scratch
        finally:
            scratch.dispose()
