"""Read logs again, with the dialects and zones as they stand: what their files still hold is replaced, what they no
longer hold stays.

The logs are read into a store of its own beside the station's, by the same intake; nobody has to wait meanwhile. Then,
in one transaction on the station's store, what came in between is read too, the rows of the files that are there are
taken out, and the new ones are put in. Whoever follows the logs finds check-points that are as far as his were, and
goes on. Killed before the commit, nothing has changed."""

import tempfile
from collections.abc import Callable, Container, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from server.config import Station
from server.intake.check_points import CheckPoint, load_check_points
from server.intake.claims import Claim, Claims
from server.intake.clock_changes import STEPPED
from server.intake.context import FAR, Progress
from server.intake.discovery import LogFile, discover
from server.intake.ingest import Intake
from server.intake.log_names import covers, log_name
from server.intake.moves import follow_moves
from server.store.changes import changes
from server.store.engine import Connection, Store, open_store, reading, sqlite_file, writing
from server.store.facts import raise_version, read_fact, read_version, set_fact
from server.store.replacing import HandedOn, keep_open, replace_rows
from server.store.rows_of_files import Part
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
    another: Mapping[str, int] = field(default_factory=dict)  #: finished overs that get another mode, slot, ...
    reasons: int = 0  #: refusals that get another reason


class _Behind(Exception):
    """Somebody has read further in the meantime."""


def with_logs(station: Station, path: str | None) -> Station:
    """The station with the [[log]]s that a path names: as it is written there, or a file of theirs. Raises
    UnusableError.
    """
    if path is None:
        return station
    name = log_name(Path(path).absolute())
    chosen = [log for log in station.log if log.path == path]
    chosen = chosen or [log for log in station.log if covers(station.folder, log.path, name)]
    if not chosen:
        named = ", ".join(filter(None, (log.path for log in station.log))) or "none"
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
    # What a journal still holds stays as it was read.
    station = station.model_copy(update={"log": [log for log in station.log if log.path]})
    files, _ = discover([log.path for log in station.log], station.folder)
    if not dry_run:
        follow_moves(engine, files)
    with _beside(engine) as scratch:
        with reading(engine) as connection:
            parts = _parts(files, load_check_points(connection), None)
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
        return [_changes(connection, new, part) for part in _matched(connection, new, station)]


def _change(engine: Store, scratch: Store, station: Station, intake: Intake, handed: HandedOn) -> list[LogAgain]:
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
            logs = [_changes(connection, new, part) for part in parts]
            raise_version(connection, before)
            replace_rows(connection, new, parts, handed)
            for part in parts:
                set_fact(connection, STEPPED + part.log, read_fact(new, STEPPED + part.log) or "")
        return logs


def _matched(connection: Connection, new: Connection, station: Station) -> list[Part]:
    files, _ = discover([log.path for log in station.log], station.folder)
    return _parts(files, load_check_points(connection), load_check_points(new))


def _parts(files: list[LogFile], before: list[CheckPoint], after: list[CheckPoint] | None) -> list[Part]:
    """By log, which check-points are replaced by which; without `after`, which will be. One is replaced only where all
    that was read of it was read again.
    """
    claims, fresh = Claims(files, before), Claims(files, after or [])
    parts: dict[str, Part] = {file.log_name: Part(file.log_name) for file in files}
    gone = {row.id: row for row in before}
    for file in files:
        _take_in(parts[file.log_name], gone, claims, fresh, file, will_be=after is None)
    for row in gone.values():
        if row.log_name in parts:
            parts[row.log_name].left.append(row)
    return [part for part in parts.values() if part.pairs or part.replaced]


def _take_in(
    part: Part, gone: dict[int, CheckPoint], claims: Claims, fresh: Claims, file: LogFile, *, will_be: bool
) -> None:
    """The check-points that a file replaces, out of those whose files are gone otherwise. A file that waits, or holds
    less than was read of it, stays as it was read.
    """
    claim, now = claims.of(file), _check_point(fresh.of(file))
    is_claimed = claim is not None and not claim.put_back
    held = _check_point(claim) if is_claimed else None
    if not _is_whole(held, now, will_be=will_be):
        return
    whole = _ids(held, claims.held_whole_by(file), gone)
    if not whole and not is_claimed:
        return
    if now is not None:
        part.pairs.append((gone[held.id] if held and held.id in whole else None, now))
    part.replaced += [gone.pop(id_) for id_ in whole]


def _ids(held: CheckPoint | None, others: list[CheckPoint], among: Container[int]) -> list[int]:
    """Of the check-points that are among others, each once and in order."""
    return list(dict.fromkeys(row.id for row in (held, *others) if row is not None and row.id in among))


def _check_point(claim: Claim | None) -> CheckPoint | None:
    return claim.check_point if claim else None


def _is_whole(held: CheckPoint | None, now: CheckPoint | None, *, will_be: bool) -> bool:
    """Whether a file was read again as far as it was read before; what `will_be` read is taken to be."""
    if now is None:
        return will_be
    return held is None or now.fingerprint.offset >= held.fingerprint.offset


def _changes(connection: Connection, new: Connection, part: Part) -> LogAgain:
    found = changes(connection, new, part)
    left = sum(row.lines for row in part.left)
    return LogAgain(
        part.log, found.lines, found.overs, found.unread, left, found.elsewhere, found.another, found.reasons
    )


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
