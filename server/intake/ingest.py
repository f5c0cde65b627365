"""Read everything new in a station's logs: block by block through parser and pairing, rows and check-point in one
transaction.
"""

import json
import time
from collections.abc import Callable, Generator, Mapping
from contextlib import closing
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from parsers.dialect import dialect_path, find_dialect
from parsers.engine import DialectReader
from parsers.reading import Carry, Reader, Reading
from server.config import Journal, Station
from server.intake.claims import Claim, Claims, Known, load_known
from server.intake.clock_changes import STEPPED, steps_back
from server.intake.days import with_first_day
from server.intake.files import DAMAGE, Found, Place, Print, Stream, blocks, discover, open_log, resume, stored_text
from server.intake.journal import NO_ENTRY, JournalError, entries, piece_of, print_after, stand_in
from server.intake.moves import follow_moves
from server.intake.pairing import (
    OPEN_SCHEMA,
    Paired,
    carries_overs,
    leave_unfinished,
    longest,
    nothing_open,
    others_touch,
    pair,
)
from server.intake.pieces import Piece, bytes_of_a_block, parsed
from server.intake.troubles import Retries, Trouble, keep_troubles, load_troubles, merged
from server.intake.years import first_instants, follows, just_before
from server.service import in_words
from server.store.arrivals import NO_STAMP, Arrival, add_arrival
from server.store.engine import Connection, Store, reading, writing
from server.store.facts import Raced, keep_longest, raise_version, read_version, set_fact
from server.store.files import add_file, count_read_with, keep_file, keep_waiting, last_header
from server.store.lines import add_line_hours, keep_unread
from server.store.logs import bounds_of_log, carry_of_log, count_lines, cursor_of, make_log, note_carrying
from server.store.paired import add_events, add_overs, keep_open_starts, open_starts
from server.store.tallies import forget_tallies
from shared.errors import DialectError, StoreError
from shared.events import IGNORED, UNDERSTOOD, UNREAD
from shared.text import escaped
from shared.zones import SECOND

BLANKS_COUNTED = 1_000  # lines that hold nothing, of a block: by the stamp before them, as other lines without one
FAR = 1 << 61  # beyond any instant that a clock shows
LOOKS = 100  # of one pass, while files move or another airtally stores
MOST_EXPANSION = 200  # times the bytes on the disk; logs reach a tenth of that
SMALL_BYTES = 1 << 20  # an unpacked file up to this size is read whatever it took on the disk

JOURNAL_AGAIN_S = 1.0  # a journal that held nothing new is not looked into more often
ROTATED_AWAY = (
    "the entry that was read last is in the journal no more, so entries after it may be lost; reading goes "
    "on with the oldest one left."
)

VERDICTS = ("understood", "ignored", "unread")  # the names of UNDERSTOOD, IGNORED, UNREAD
Began = dict[
    tuple[int, str | None, int | None], int | None
]  #: start, mode and slot of an open over -> file of its start line


Progress = Callable[[int, str], None]  #: bytes just read, of which file


@dataclass
class Caught:
    """What one pass over the logs brought."""

    files: int = 0
    lines: int = 0
    understood: int = 0
    ignored: int = 0
    unread: int = 0
    overs: int = 0
    found_wrong: list[Trouble] = field(default_factory=list)  #: what stands in the way now
    notes: list[str] = field(default_factory=list)  #: what is no trouble, said once: files that wait, logs that moved
    more: bool = False  #: a packed file is half read: the next pass goes on with it

    @property
    def troubles(self) -> list[str]:
        """What stands in the way now, a sentence each."""
        return [trouble.says for trouble in self.found_wrong]


class _Moved(Exception):
    """Files were renamed, created or removed between two looks; the log that was looked at."""


class _Stopped(Exception):
    """The pass is to end here."""


class Inflated(Exception):
    """A packed file holds more than any log would."""


@dataclass
class _UnderWay:
    """A file that is being read, a piece at a time."""

    steps: Generator[int]  #: reads a piece more, and gives the offset after it
    apart: bool  #: the newer files of its log need not wait for it
    offset: int | None = None  #: after what is stored; None before the first piece


@dataclass
class _JournalUnderWay:
    """A journal that is being read, some entries at a time."""

    steps: Generator[str | None]  #: reads on, and gives the cursor after it; None where nothing came for now
    cursor: str | None  #: after what is stored


def _places(found: list[Found]) -> set[tuple[str, int, int]]:
    """Which file lies under which name."""
    return {(str(file.path), file.device, file.inode) for file in found}


class Intake:
    """Reads the logs of one station into its store. One pass is `catch_up`; following is one pass after another."""

    def __init__(
        self,
        engine: Store,
        station: Station,
        block_bytes: int | None = None,
        steady: Callable[[], float] = time.monotonic,
        now_us: Callable[[], int] = lambda: FAR,
    ) -> None:
        """`steady` gives seconds of a clock that nobody sets, `now_us` the instant that it is: no line whose stamp
        lacks its date or its year lies beyond it. Raises DialectError where a log's dialect is unknown or wrong.
        """
        self._engine = engine
        self._station = station
        self._block_bytes = block_bytes or bytes_of_a_block()
        self._readers: list[Reader] = []
        for number, log in enumerate(station.log, start=1):
            try:
                self._readers.append(find_dialect(log.dialect, station.folder))
            except DialectError as error:
                raise DialectError(f"{station.path}: log[{number}].dialect = {log.dialect!r}: {error}") from error
        self._dialects = self._dialect_files()
        self._settled: set[tuple[int, int, int, int]] = set()  # stamps of files that hold nothing new
        self._version = 0
        self._steady = steady
        self._now_us = now_us
        self._retries = Retries(steady)
        self._under_way: dict[tuple[int, int], _UnderWay] = {}  # by device and inode
        self._journals: dict[str, _JournalUnderWay] = {}  # by name
        self._caught = Caught()
        self._looked: list[Trouble] = []  # what could not be looked at in this pass
        self._progress: Progress | None = None
        self._claims = Claims([], [])
        self._journal_due: dict[str, float] = {}  # when one that held nothing new is looked into again
        self._found: list[Found] = []
        self._dated: dict[
            str, tuple[list[Found], dict[Found, int]]
        ] = {}  # by log: the files that were looked at, and when they begin
        self._waiting: dict[str, str] | None = None  # sentences by path, as they were said last

    def _dialect_files(self) -> list[tuple[str, int] | None]:
        """Which files the dialects are in, and when they changed last."""
        paths = [
            None if log.dialect == "activity" else dialect_path(log.dialect, self._station.folder)
            for log in self._station.log
        ]
        return [None if path is None else (str(path), path.stat().st_mtime_ns) for path in paths]

    def _look_at_dialects(self) -> None:
        """Dialects may grow while logs are followed; one that is wrong for now is told, and the one before it stays in
        force.
        """
        try:
            now = self._dialect_files()
            if now != self._dialects:
                self._readers = [find_dialect(log.dialect, self._station.folder) for log in self._station.log]
                self._dialects = now
        except Exception as error:  # whatever a file that is being written can do to its reader
            says = f"{in_words(error, 'Reading the dialects')} Logs are read with the dialect as it was before."
            self._retries.failed("dialects", Trouble("", escaped(says)))
        else:
            self._retries.passed("dialects")

    def waiting(self) -> int:
        """About how many bytes of log there are to read, for a progress bar."""
        found, _ = self._discover()
        return sum(file.size for file in found if file.stamp not in self._settled)

    def catch_up(
        self,
        progress: Progress | None = None,
        *,
        stopping: Callable[[], bool] = lambda: False,
        step_s: float | None = None,
    ) -> Caught:
        """Read all that is new, the oldest first. With `step_s` the pass goes on to the other logs when a file that
        nobody writes any more took that long; the next pass goes on with it. Ends between two pieces where `stopping`.
        Raises StoreError; what goes wrong with single logs is in the result.
        """
        self._look_at_dialects()
        caught, self._progress = Caught(), progress
        self._caught = caught
        hindrance = Trouble("", "")
        for _look in range(LOOKS):
            try:
                self._pass(stopping, step_s)
                self._retries.passed("looks")
                break
            except Raced:  # another airtally was reading too: look again at what is left
                self._settled.clear()
                hindrance = Trouble("", f"Another airtally stored lines at each of {LOOKS} looks")
            except _Moved as moved:  # the files were rotated in between: look again at what lies where
                log = str(moved)
                hindrance = Trouble(
                    log, f"{escaped(log)}: its files were renamed, made or removed during each of {LOOKS} looks"
                )
            except _Stopped:
                break
        else:
            says = f"{hindrance.says}; this pass over the logs was given up, and the next one looks again."
            self._retries.failed("looks", Trouble(hindrance.log, says))
        caught.found_wrong = self._keep_troubles()
        return caught

    def close(self) -> None:
        """Give up what is half read: its check-point is in the store."""
        while self._under_way:
            self._under_way.popitem()[1].steps.close()
        while self._journals:
            self._journals.popitem()[1].steps.close()

    def _keep_troubles(self) -> list[Trouble]:
        """What stands in the way now, kept in the store where that has changed."""
        found = merged([*self._looked, *self._retries.troubles])
        with reading(self._engine) as connection:
            kept = load_troubles(connection)
        if found != kept:
            with writing(self._engine) as connection:
                keep_troubles(connection, found)
        return found

    def _discover(self) -> tuple[list[Found], list[Trouble]]:
        return discover([log.path for log in self._station.log], self._station.folder)

    def _stay_put(self, one: Found, found: list[Found], *, ended: bool) -> None:
        """Raises _Moved where the files no longer lie as they were found. Asked once `one` is open: the newest file of
        a log, read while a rotation was seen by half, would be read before the older lines that it goes on from.
        """
        try:
            status = one.path.stat()
        except OSError as error:
            raise _Moved(one.log_name) from error
        here = (status.st_dev, status.st_ino) == (one.device, one.inode)
        if not here or (not ended and _places(self._discover()[0]) != _places(found)):
            raise _Moved(one.log_name)

    def _pass(self, stopping: Callable[[], bool], step_s: float | None) -> None:
        found, self._looked = self._discover()
        self._found = found
        self._retries.keep(Path, (file.path for file in found))
        filled = {file.log_name: file for file in found if file.size}  # the newest file of each log that holds anything
        told = self._follow_moves(found)
        with reading(self._engine) as connection:
            self._version = read_version(connection)
            known = load_known(connection)
        good = self._claim(told, known)
        half_read: set[str] = set()  # logs of which an older file is to be read to its end first
        self._caught.more = False
        for file in good:
            if stopping():
                raise _Stopped
            if file.log_name in half_read or not self._retries.is_due(file.path, file.stamp):
                continue
            try:
                if not self._read_on(file, found, _has_ended(file, filled), stopping, step_s):
                    self._caught.more = True
                    if not self._under_way[file.device, file.inode].apart:
                        half_read.add(file.log_name)
            except FileNotFoundError as error:
                raise _Moved(file.log_name) from error
            except (Raced, _Moved, _Stopped, StoreError, KeyboardInterrupt, SystemExit):
                raise
            except BaseException as error:  # of any kind, a library's panics too: the other logs go on
                self._failed(file, error)
            else:
                self._retries.passed(file.path)
        self._say_what_waits(self._claims.waiting)
        for number, log in enumerate(self._station.log):
            journal = log.read_from(self._station.folder)
            if (
                journal is not None
                and self._retries.is_due(journal.name)
                and self._steady() >= self._journal_due.get(journal.name, 0)
            ):
                self._read_journal(journal, number, known, stopping, step_s is not None)

    def _follow_moves(self, found: list[Found]) -> list[Found]:
        """Logs that moved get their new names. Gives the files of the logs for which that could be told."""
        try:
            moves = follow_moves(self._engine, found)
        except FileNotFoundError as error:
            raise _Moved("") from error
        self._caught.notes += moves.notes
        for log, why in moves.failed.items():
            self._looked.append(Trouble(log, escaped(in_words(why, f"Looking whether {log} has moved"))))
        return [file for file in found if file.log_name not in moves.failed]

    def _read_journal(
        self, journal: Journal, number: int, known: list[Known], stopping: Callable[[], bool], in_steps: bool
    ) -> None:
        """Read what is new in a journal; what keeps it from being read is told, and it is tried again. With `in_steps`
        the next pass goes on
        where journalctl has nothing to give for now. Raises Raced, StoreError.
        """
        name = journal.name
        under_way = self._journals.pop(name, None)
        if under_way is not None and under_way.cursor != self._cursor(name):  # somebody else has read on in it
            under_way.steps.close()
            under_way = None
        row = next((one for one in known if one.log_name == name), None)
        if under_way is None:
            under_way = _JournalUnderWay(self._journal_steps(journal, number, row), self._cursor(name))
        try:
            for cursor in under_way.steps:
                under_way.cursor = cursor or under_way.cursor
                if stopping():
                    under_way.steps.close()
                    raise _Stopped
                if cursor is None and in_steps:
                    self._journals[name] = under_way
                    self._caught.more = True
                    return
        except JournalError as error:
            self._retries.failed(name, Trouble(name, str(error)))
        except (Raced, _Stopped, StoreError):
            raise
        except Exception as error:
            self._retries.failed(name, Trouble(name, escaped(in_words(error, f"Reading {name}"))))
        else:
            if under_way.cursor is None:
                self._retries.failed(name, Trouble(name, f"{name}: {NO_ENTRY}"))
            else:
                self._retries.passed(name)

    def _journal_steps(self, journal: Journal, number: int, row: Known | None) -> Generator[str | None]:
        """Reads what is new in a journal, batch by batch, and gives the cursor after each, None where nothing came for
        now. Raises JournalError,
        Raced, StoreError.
        """
        reader, before = self._readers[number], row.print.offset if row else 0
        quiet_us = round((self._station.timers.quiet_log_s or 0) * SECOND)
        entry = stand_in(journal, number)
        writer = _Writer(self._engine, entry, row, reader, apart=False, quiet_us=quiet_us, now_us=self._now_us)
        carry, cursor = writer.open(), self._cursor(journal.name)
        envelope = reader.envelope if isinstance(reader, DialectReader) else "none"
        started = before
        with closing(entries(journal, cursor, self._block_bytes)) as some:
            for batch in some:
                if batch is None:
                    yield None
                    continue
                piece = piece_of(batch, reader, envelope, carry, before)
                carry, before, writer.cursor = piece.reading.carry, before + batch.count, batch.cursor
                self._version = writer.write(piece, print_after(before), self._version, self._caught)
                if batch.lost:
                    self._caught.notes.append(f"{journal.name}: {ROTATED_AWAY}")
                if self._progress:
                    self._progress(0, journal.name)
                yield batch.cursor
        self._caught.files += before > started
        self._journal_due[journal.name] = 0 if before > started else self._steady() + JOURNAL_AGAIN_S

    def _cursor(self, name: str) -> str | None:
        """The last entry that was read of a journal."""
        with reading(self._engine) as connection:
            return cursor_of(connection, name)

    def _say_what_waits(self, waiting: Mapping[Found, str]) -> None:
        """Says of each file once that it waits, and keeps it for the Intake page."""
        now = {stored_text(file.path): says for file, says in waiting.items()}
        if now == self._waiting:
            return
        self._caught.notes += [says for path, says in now.items() if (self._waiting or {}).get(path) != says]
        self._waiting = now
        keep_waiting(self._engine, [(stored_text(file.path), file.log_name, says) for file, says in waiting.items()])

    def _claim(self, found: list[Found], known: list[Known]) -> list[Found]:
        """Look whose files they are; gives those of the logs that could be looked at. The others are told."""
        try:
            self._claims = Claims(found, known)
        except FileNotFoundError as error:
            raise _Moved("") from error
        for log, why in self._claims.failed.items():
            self._looked.append(Trouble(log, escaped(in_words(why, f"Looking at the files of {log}"))))
        return [file for file in found if file.log_name not in self._claims.failed]

    def _failed(self, file: Found, error: BaseException) -> None:
        """Tell why a file can't be read on; it is tried again."""
        place = escaped(str(file.path))
        if isinstance(error, Inflated):
            says = f"{place}: {error}; it is not read further. Unpack it by hand if it is a log."
        elif isinstance(error, DAMAGE):
            said = getattr(error, "strerror", None) or str(error) or "it breaks off"
            says = f"{place}: can't be read to its end ({escaped(said)}); what came before is kept."
        else:
            says = escaped(in_words(error, f"Reading {place}"))
        self._retries.failed(file.path, Trouble(file.log_name, says), file.stamp, for_good=isinstance(error, Inflated))

    def _read_on(
        self, file: Found, found: list[Found], ended: bool, stopping: Callable[[], bool], step_s: float | None
    ) -> bool:  # fmt: skip
        """Read what is new in a file; False where that took longer than a step, and the rest is to come."""
        place = (file.device, file.inode)
        under_way = self._under_way.pop(place, None)
        one = self._claims.of(file)
        if under_way is not None and (one is None or one.known is None or one.known.print.offset != under_way.offset):
            under_way.steps.close()  # somebody else has read on in it
            under_way = None
        if under_way is None:
            if one is None or self._nothing_new(one):
                return True
            apart = one.known.apart if one.known else one.apart
            under_way = _UnderWay(self._read_file(one, found, apart, ended), apart)
        until = None if step_s is None or file.live else self._steady() + step_s
        for offset in under_way.steps:
            under_way.offset = offset
            if stopping():
                under_way.steps.close()
                raise _Stopped
            if until is not None and self._steady() >= until:
                self._under_way[place] = under_way
                return False
        return True

    def _nothing_new(self, one: Claim) -> bool:
        """Whether the file was read to its end, and lies where it did."""
        unchanged = one.found.stamp in self._settled or (one.known is not None and one.known.stamp == one.found.stamp)
        return unchanged and (one.known is None or one.known.path == stored_text(one.found.path))

    def _read_file(self, one: Claim, found: list[Found], apart: bool, ended: bool) -> Generator[int]:
        """Reads what is new in a file, piece by piece, and tells the claims what it holds, be it that the file breaks
        off. Gives the offset after each piece. Raises DAMAGE, Inflated, Raced, StoreError, _Moved.
        """
        file, known = one.found, one.known
        with open_log(file.path) as stream:
            self._stay_put(file, found, ended=ended)
            reader = self._readers[file.setting]
            place = resume(stream, known.print, file.packed) if known else Place()
            if place is None:  # the next pass sees what it has become
                return
            quiet_us = round((self._station.timers.quiet_log_s or 0) * SECOND)
            writer = _Writer(self._engine, file, known, reader, apart=apart, quiet_us=quiet_us, now_us=self._now_us)
            carry = writer.open()
            touched = False
            try:
                with closing(self._pieces(stream, place, known, file, reader, carry, ended)) as pieces:
                    for piece, fingerprint in pieces:
                        self._version = writer.write(piece, fingerprint, self._version, self._caught)
                        self._caught.files += not touched
                        touched = True
                        if self._progress:
                            self._progress(len(piece.block.data) + len(piece.block.passed), str(file.path))
                        yield fingerprint.offset
            except DAMAGE:
                self._tell(writer, file)
                raise
            if writer.apart and touched:
                self._version = writer.close_apart(self._version)
            moved = known is not None and (
                one.put_back or known.path != stored_text(file.path) or known.inode != file.inode
            )
            if known is not None and moved and not touched:
                self._version = writer.move(self._version, known.print)
            self._settled.add(file.stamp)
            self._tell(writer, file)

    def _tell(self, writer: "_Writer", found: Found) -> None:
        if writer.file_id is not None:
            with reading(self._engine) as connection:
                self._claims.took(found, load_known(connection, writer.file_id)[0])

    def _first_instants(self, file: Found, reader: DialectReader, now: int) -> dict[Found, int]:
        """When the files of a file's log begin that have stamps without a year; looked at once for all that were found
        together.
        """
        if file not in self._dated.get(file.log_name, ([], {}))[0]:
            siblings = [one for one in self._found if one.log_name == file.log_name]
            self._dated[file.log_name] = siblings, first_instants(siblings, reader, now)
        return self._dated[file.log_name][1]

    def _pieces(
        self, stream: Stream, place: Place, known: Known | None, found: Found, reader: Reader, carry: Carry, ended: bool
    ) -> Generator[tuple[Piece, Print]]:  # fmt: skip
        """The pieces of a file, each with the fingerprint of the file up to its end."""
        offset, skipping = (known.print.offset, known.skipping) if known else (0, False)
        if isinstance(reader, DialectReader) and reader.dayless:
            most = max(SMALL_BYTES, MOST_EXPANSION * found.size) if found.packed else found.size
            carry = with_first_day(
                carry,
                reader,
                found,
                offset,
                self._now_us(),
                skipping=skipping,
                ended=ended,
                block_bytes=self._block_bytes,
                most=most,
            )
        now = self._now_us()
        if now == FAR:  # no clock was given: the log was read when it was written
            now = max(
                (one.mtime_ns // 1000 for one in self._found if one.log_name == found.log_name),
                default=found.mtime_ns // 1000,
            )
        if known is None and isinstance(reader, DialectReader) and reader.may_lack_year:
            first = self._first_instants(found, reader, now).get(found)
            if first is not None and not follows(carry.last_us, first):
                carry = replace(carry, last_us=just_before(first))
        unparsed = blocks(stream, offset, self._block_bytes, skipping=skipping, ended=ended)
        for piece in parsed(unparsed, reader, carry, now):
            block = piece.block
            place, fingerprint = place.grow(block.passed + block.data, block.offset)
            yield piece, fingerprint
            if found.packed and block.offset > max(SMALL_BYTES, MOST_EXPANSION * found.size):
                raise Inflated(f"holds over {MOST_EXPANSION} times as much as it takes on the disk")


def _has_ended(file: Found, filled: dict[str, Found]) -> bool:
    """Whether nobody writes the file any more, so that a last line without its end is whole."""
    return file.packed or (file.log_name in filled and filled[file.log_name].age_key > file.age_key)


class _Writer:
    """Commits the pieces of one file: rows, open overs and check-point together."""

    def __init__(
        self,
        engine: Store,
        found: Found,
        known: Known | None,
        reader: Reader,
        *,
        apart: bool,
        quiet_us: int,
        now_us: Callable[[], int],
    ) -> None:
        self._engine = engine
        self._found = found
        self._known = known
        self._reader = reader
        self._own = known.own_bytes if known else None
        self._log_id = known.log_id if known else None
        self._header = json.loads(known.header) if known and known.header else None
        self.file_id = known.id if known else None
        self.apart = apart
        self.cursor: str | None = None  # of a journal: the last entry of the piece that is written next
        self._quiet_us = quiet_us
        self._now_us = now_us

    def open(self) -> Carry:
        """What the piece before the next one handed on."""
        header = tuple(self._header) if self._header else None
        with reading(self._engine) as connection:
            log = carry_of_log(connection, self._found.log_name, self._log_id)
            if log is None:
                return Carry(None, header)
            self._log_id, carry_us = log
            if header is None:
                header = last_header(connection, self._log_id)
        return Carry(None if self.apart else carry_us, header)

    def write(self, piece: Piece, fingerprint: Print, version: int, caught: Caught) -> int:
        """One transaction. Returns the store's new version. Raises Raced, StoreError."""
        read = piece.reading
        counts = np.bincount(read.verdicts, minlength=3)
        with writing(self._engine) as connection:
            version = raise_version(connection, version)
            self._log_id = self._ensure_log(connection)
            self.file_id = self._check_point(connection, piece, fingerprint)
            open_file = self.file_id if self.apart else None
            opened, began = _load_open(connection, self._log_id, open_file)
            paired = pair(opened, read.events)
            self._store(connection, paired, began, open_file)
            if carries_overs(paired):
                note_carrying(connection, self._log_id)
            self._forget_seen(connection, read, paired)
            counted = read.stamped
            if (
                piece.blank is not None and len(piece.blank) > BLANKS_COUNTED
            ):  # a packed file of nothing else costs nothing
                counted = read.stamped.copy()
                counted[piece.blank[BLANKS_COUNTED:]] = False
            add_line_hours(connection, self._log_id, self.file_id, read.stamps, counted, read.verdicts)
            self._keep_arrival(connection, piece)
            if steps := steps_back(read.stamps[read.stamped]):
                set_fact(connection, STEPPED + self._found.log_name, str(steps[-1]))
            unread = np.flatnonzero(read.verdicts == UNREAD)
            if len(unread):
                stamps = [
                    int(t) if known else None
                    for t, known in zip(read.stamps[unread], read.stamped[unread], strict=True)
                ]
                keep_unread(connection, self._log_id, self.file_id, stamps, piece.unread)
            self._count(connection, read, counts)
        caught.lines += len(read.verdicts)
        caught.understood += int(counts[UNDERSTOOD])
        caught.ignored += int(counts[IGNORED])
        caught.unread += int(counts[UNREAD])
        caught.overs += paired.overs.height
        return version

    def _keep_arrival(self, connection: Connection, piece: Piece) -> None:
        """Lines at the end of a live file that have no stamp of their own came when the file changed last."""
        read, file = piece.reading, self._found
        if not read.bare or not piece.block.final or not file.live or not file.mtime_ns:
            return
        assert self._log_id is not None and self.file_id is not None
        under = int(read.stamps[-1]) if read.stamped[-1] else NO_STAMP
        came = max(min(file.mtime_ns // 1000, self._now_us()), under)
        unread = int((read.verdicts[-read.bare :] == UNREAD).sum())
        add_arrival(connection, self._log_id, self.file_id, Arrival(came, under, read.bare, unread))

    def close_apart(self, version: int) -> int:
        """A file that stands apart has been read to its end: what is open in it stays unfinished."""
        assert self._log_id is not None
        with writing(self._engine) as connection:
            version = raise_version(connection, version)
            left, began = _load_open(connection, self._log_id, self.file_id)
            self._store(connection, Paired(leave_unfinished(left), nothing_open(), pl.DataFrame()), began, self.file_id)
        return version

    def move(self, version: int, fingerprint: Print) -> int:
        """The content lies elsewhere now, or is an older state of it."""
        with writing(self._engine) as connection:
            version = raise_version(connection, version)
            keep_file(connection, self.file_id, self._place(fingerprint))
        return version

    def _place(self, now: Print) -> dict[str, object]:
        """Where the file lies and how far it was read."""
        return {
            "path": stored_text(self._found.path),
            "device": self._found.device,
            "inode": self._found.inode,
            **asdict(now),
        }

    def _ensure_log(self, connection: Connection) -> int:
        if self._log_id is not None:
            return self._log_id
        return make_log(connection, self._found.log_name, self._reader.name)

    def _check_point(self, connection: Connection, piece: Piece, fingerprint: Print) -> int:
        header = piece.reading.carry.header
        values = {
            **self._place(fingerprint),
            "skipping": piece.block.skipping,
            "header": json.dumps(header) if header else None,
            "size": self._found.size if piece.block.final else None,
            "mtime_ns": self._found.mtime_ns if piece.block.final else None,
        }
        counts = dict(zip(VERDICTS, np.bincount(piece.reading.verdicts, minlength=3).tolist(), strict=True))
        counts["lines"] = len(piece.reading.verdicts)
        if self._own is None:
            self._own = values["own_bytes"] = first_understood(piece)
        if self.file_id is None:
            self.file_id = add_file(connection, self._log_id, {"apart": self.apart, **counts, **values})
        else:
            keep_file(connection, self.file_id, values, counts)
        count_read_with(connection, self.file_id, self._reader.meaning, counts["lines"])
        return self.file_id

    def _store(self, connection: Connection, paired: Paired, began: Began, open_file: int | None) -> None:
        assert self._log_id is not None
        log_id, overs = self._log_id, paired.overs
        still_open = paired.still_open.with_columns(_began(paired.still_open, began, self.file_id))
        keep_open_starts(connection, log_id, open_file, still_open)
        elsewhere = {key: id_ for key, id_ in began.items() if id_ != self.file_id}
        if elsewhere:
            overs = overs.with_columns(_began(overs, elsewhere, None))
        add_overs(connection, log_id, self.file_id, overs)
        add_events(connection, log_id, self.file_id, paired.others)
        keep_longest(connection, longest(paired))
        columns = [
            paired.overs["start"],
            paired.overs["end"],
            *(others_touch(paired.others) if paired.others.height else []),
        ]
        instants = np.concatenate([column.drop_nulls().to_numpy() for column in columns])
        if len(instants):
            forget_tallies(connection, int(instants.min()), int(instants.max()))

    def _forget_seen(self, connection: Connection, read: Reading, paired: Paired) -> None:
        """Drops the tallies whose seen time these lines change: theirs, those of the time between them and the log's
        others, and where the host stopped or started all that follow.
        """
        if not read.stamped.any():
            return
        first, last = int(read.stamps[read.stamped].min()), int(read.stamps[read.stamped].max())
        bounds = bounds_of_log(connection, self._log_id)
        if bounds is not None:
            low = min(first, bounds[1]) if last > bounds[1] else first
            first, last = low, max(last, bounds[0]) if first < bounds[0] else last
        if paired.others.height and paired.others["event"].is_in(["host-stop", "host-start"]).any():
            last = FAR
        forget_tallies(connection, first - self._quiet_us, last + self._quiet_us)

    def _count(self, connection: Connection, read: Reading, counts: np.ndarray) -> None:
        assert self._log_id is not None
        values: dict[str, Any] = {"dialect": self._reader.name}
        if self.cursor is not None:
            values["cursor"] = self.cursor
        if not self.apart and read.carry.last_us is not None:
            values["carry_us"] = read.carry.last_us
        stamps = read.stamps[read.stamped]
        more = {"lines": len(read.verdicts), **dict(zip(VERDICTS, counts.tolist(), strict=True))}
        between = (int(stamps.min()), int(stamps.max())) if len(stamps) else None
        count_lines(connection, self._log_id, more, between, **values)


def _load_open(connection: Connection, log_id: int, file_id: int | None) -> tuple[pl.DataFrame, Began]:
    """The starts that are open in a log, or in a file of it that stands apart, and the files that they stood in."""
    rows = open_starts(connection, log_id, file_id, [*OPEN_SCHEMA, "began_id"])
    start, mode, slot = (list(OPEN_SCHEMA).index(name) for name in ("start", "mode", "slot"))
    began = {(row[start], row[mode], row[slot]): row[-1] for row in rows}
    return pl.DataFrame([row[:-1] for row in rows], schema=OPEN_SCHEMA, orient="row"), began


def _began(overs: pl.DataFrame, began: Began, others: int | None) -> pl.Series:
    """The column `began_id` of overs: the file of their start line."""
    found = [others] * overs.height
    starts = {start for start, _mode, _slot in began}
    for at in np.flatnonzero(overs["start"].is_in(list(starts)).to_numpy()).tolist() if starts else []:
        found[at] = began.get((overs["start"][at], overs["mode"][at], overs["slot"][at]), others)
    return pl.Series("began_id", found, dtype=pl.Int64)


def first_understood(piece: Piece) -> int | None:
    """Where in its file the first line ends that was understood."""
    at = int(np.argmax(piece.reading.verdicts == UNDERSTOOD)) if len(piece.reading.verdicts) else 0
    if not len(piece.reading.verdicts) or piece.reading.verdicts[at] != UNDERSTOOD:
        return None
    data = piece.block.data
    rest = data.split(b"\n", at + 1)[at + 1 :]
    return piece.block.offset - (len(rest[0]) if rest else 0)
