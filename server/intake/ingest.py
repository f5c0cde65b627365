"""Read everything new in a station's logs: block by block through parser and pairing, rows and check-point in one transaction."""

import json
from collections.abc import Callable, Generator
from contextlib import closing
from dataclasses import asdict, dataclass, field

import numpy as np
import polars as pl
import sqlalchemy as sa

from parsers.dialect import dialect_path, find_dialect
from parsers.reading import Carry, Reader, Reading
from server.config import Station
from server.intake.claims import Claim, Claims, Known, load_known
from server.intake.files import DAMAGE, Found, Print, Stream, blocks, discover, grow_print, open_log, resume
from server.intake.pairing import OPEN_SCHEMA, Paired, leave_unfinished, nothing_open, pair
from server.intake.pieces import Piece, bytes_of_a_block, parsed
from server.store import schema
from server.store.engine import reading, writing
from server.store.frames import insert_frame
from server.store.writes import (
    Raced,
    add_line_hours,
    forget_tallies,
    keep_longest,
    keep_unread,
    raise_version,
    read_version,
)
from shared.errors import DialectError
from shared.events import IGNORED, UNDERSTOOD, UNREAD

EVENT_ROW = ("t", "event", "mode", "slot", "side", "station", "target", "network", "reason", "seconds", "rssi_dbm")

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
    troubles: list[str] = field(default_factory=list)


class _Moved(Exception):
    """Files were renamed, created or removed between two looks."""


def _places(found: list[Found]) -> set[tuple[str, int, int]]:
    """Which file lies under which name."""
    return {(str(file.path), file.device, file.inode) for file in found}


class Intake:
    """Reads the logs of one station into its store. One pass is `catch_up`; following is one pass after another."""

    def __init__(self, engine: sa.Engine, station: Station, block_bytes: int | None = None) -> None:
        """Raises DialectError where a log's dialect is unknown or wrong."""
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

    def _dialect_files(self) -> list[tuple[str, int] | None]:
        """Which files the dialects are in, and when they changed last."""
        paths = [None if log.dialect == "activity" else dialect_path(log.dialect, self._station.folder) for log in self._station.log]
        return [None if path is None else (str(path), path.stat().st_mtime_ns) for path in paths]

    def _look_at_dialects(self) -> None:
        """Dialects may grow while logs are followed; one that is wrong for now is not taken, and the one before it stays in force."""
        try:
            now = self._dialect_files()
            if now != self._dialects:
                self._readers = [find_dialect(log.dialect, self._station.folder) for log in self._station.log]
                self._dialects = now
        except (DialectError, OSError):
            pass

    def waiting(self) -> int:
        """About how many bytes of log there are to read, for a progress bar."""
        found, _ = self._discover()
        return sum(file.size for file in found if file.stamp not in self._settled)

    def catch_up(self, progress: Progress | None = None) -> Caught:
        """Read all that is new, the oldest first. Raises StoreError; troubles with single files are sentences in the result."""
        self._look_at_dialects()
        caught = Caught()
        for _attempt in range(100):
            try:
                self._pass(caught, progress)
                return caught
            except Raced:  # another airtally was reading too: look again at what is left
                self._settled.clear()
            except _Moved:  # the files were rotated in between: look again at what lies where
                pass
        return caught

    def _discover(self) -> tuple[list[Found], list[str]]:
        return discover([log.path for log in self._station.log], self._station.folder)

    def _stay_put(self, one: Found, found: list[Found], *, ended: bool) -> None:
        """Raises _Moved where the files no longer lie as they were found. Asked once `one` is open: the newest file of a log, read while a
        rotation was seen by half, would be read before the older lines that it goes on from."""
        try:
            status = one.path.stat()
        except OSError as error:
            raise _Moved from error
        here = (status.st_dev, status.st_ino) == (one.device, one.inode)
        if not here or (not ended and _places(self._discover()[0]) != _places(found)):
            raise _Moved

    def _pass(self, caught: Caught, progress: Progress | None) -> None:
        found, caught.troubles = self._discover()
        filled = {file.log_name: file for file in found if file.size}  # the newest file of each log that holds anything
        with reading(self._engine) as connection:
            self._version = read_version(connection)
            claims = Claims(found, load_known(connection))
        for file in found:
            one = claims.of(file)
            if one is None or self._nothing_new(one):
                continue
            ended = _has_ended(file, filled)
            try:
                with open_log(file.path) as stream:
                    self._stay_put(file, found, ended=ended)
                    self._read_file(stream, one, claims, ended=ended, caught=caught, progress=progress)
            except FileNotFoundError as error:
                raise _Moved from error
            except DAMAGE as error:
                said = getattr(error, "strerror", None) or str(error) or "it breaks off"
                caught.troubles.append(f"{file.path}: can't be read to its end ({said}); what came before is kept.")
                self._settled.add(file.stamp)

    def _nothing_new(self, one: Claim) -> bool:
        """Whether the file was read to its end, and lies where it did."""
        unchanged = one.found.stamp in self._settled or (one.known is not None and one.known.stamp == one.found.stamp)
        return unchanged and (one.known is None or one.known.path == str(one.found.path))

    def _read_file(
        self, stream: Stream, one: Claim, claims: Claims, *, ended: bool, caught: Caught, progress: Progress | None
    ) -> None:  # fmt: skip
        """Reads what is new in a file, and tells the claims what it holds, be it that the file breaks off. Raises DAMAGE, Raced, StoreError."""
        found, known = one.found, one.known
        reader = self._readers[found.setting]
        place = resume(stream, known.print, found.packed) if known else (b"", b"")
        if place is None:  # the next pass sees what it has become
            return
        writer = _Writer(self._engine, found, known, reader.name, apart=known.apart if known else one.apart)
        carry = writer.open()
        touched = False
        try:
            with closing(self._pieces(stream, place, known, found, reader, carry, ended)) as pieces:
                for piece, fingerprint in pieces:
                    self._version = writer.write(piece, fingerprint, self._version, caught)
                    touched = True
                    if progress:
                        progress(len(piece.block.data) + len(piece.block.passed), str(found.path))
        except DAMAGE:
            self._tell(claims, writer, found)
            raise
        caught.files += touched
        if writer.apart and touched:
            self._version = writer.close_apart(self._version)
        if known is not None and not touched and (one.put_back or known.path != str(found.path) or known.inode != found.inode):
            self._version = writer.move(self._version, known.print)
        self._settled.add(found.stamp)
        self._tell(claims, writer, found)

    def _tell(self, claims: Claims, writer: "_Writer", found: Found) -> None:
        if writer.file_id is not None:
            with reading(self._engine) as connection:
                claims.took(found, load_known(connection, writer.file_id)[0])

    def _pieces(
        self, stream: Stream, place: tuple[bytes, bytes], known: Known | None, found: Found, reader: Reader, carry: Carry, ended: bool
    ) -> Generator[tuple[Piece, Print]]:  # fmt: skip
        """The pieces of a file, each with the fingerprint of the file up to its end."""
        head, tail = place
        offset, skipping = (known.print.offset, known.skipping) if known else (0, False)
        unparsed = blocks(stream, offset, self._block_bytes, skipping=skipping, ended=ended)
        for piece in parsed(unparsed, reader, carry, found.mtime_ns // 1000):
            block = piece.block
            head, tail, fingerprint = grow_print(head, tail, block.passed + block.data, block.offset)
            yield piece, fingerprint


def _has_ended(file: Found, filled: dict[str, Found]) -> bool:
    """Whether nobody writes the file any more, so that a last line without its end is whole."""
    return file.packed or (file.log_name in filled and filled[file.log_name].age_key > file.age_key)


class _Writer:
    """Commits the pieces of one file: rows, open overs and check-point together."""

    def __init__(self, engine: sa.Engine, found: Found, known: Known | None, dialect: str, *, apart: bool) -> None:
        self._engine = engine
        self._found = found
        self._dialect = dialect
        self._log_id = known.log_id if known else None
        self._header = json.loads(known.header) if known and known.header else None
        self.file_id = known.id if known else None
        self.apart = apart

    def open(self) -> Carry:
        """What the piece before the next one handed on."""
        header = tuple(self._header) if self._header else None
        log, file = schema.log, schema.file
        with reading(self._engine) as connection:
            row = connection.execute(sa.select(log).where(log.c.name == self._found.log_name)).first()
            if row is None:
                return Carry(None, header)
            self._log_id = row.id
            if header is None:
                last = sa.select(file.c.header).where(file.c.log_id == row.id).order_by(file.c.id.desc()).limit(1)
                text = connection.execute(last).scalar()
                header = tuple(json.loads(text)) if text else None
        return Carry(None if self.apart else row.carry_us, header)

    def write(self, piece: Piece, fingerprint: Print, version: int, caught: Caught) -> int:
        """One transaction. Returns the store's new version. Raises Raced, StoreError."""
        read = piece.reading
        counts = np.bincount(read.verdicts, minlength=3)
        with writing(self._engine) as connection:
            version = raise_version(connection, version)
            self._log_id = self._ensure_log(connection)
            self.file_id = self._check_point(connection, piece, fingerprint)
            open_file = self.file_id if self.apart else None
            paired = pair(_load_open(connection, self._log_id, open_file), read.events)
            self._store(connection, paired, open_file)
            add_line_hours(connection, self._log_id, read.stamps, read.stamped, read.verdicts)
            unread = np.flatnonzero(read.verdicts == UNREAD)
            if len(unread):
                stamps = [int(t) if known else None for t, known in zip(read.stamps[unread], read.stamped[unread], strict=True)]
                keep_unread(connection, self._log_id, stamps, piece.unread)
            self._count(connection, read, counts)
        caught.lines += len(read.verdicts)
        caught.understood += int(counts[UNDERSTOOD])
        caught.ignored += int(counts[IGNORED])
        caught.unread += int(counts[UNREAD])
        caught.overs += paired.overs.height
        return version

    def close_apart(self, version: int) -> int:
        """A file that stands apart has been read to its end: what is open in it stays unfinished."""
        assert self._log_id is not None
        with writing(self._engine) as connection:
            version = raise_version(connection, version)
            left = _load_open(connection, self._log_id, self.file_id)
            self._store(connection, Paired(leave_unfinished(left), nothing_open(), pl.DataFrame()), self.file_id)
        return version

    def move(self, version: int, fingerprint: Print) -> int:
        """The content lies elsewhere now, or is an older state of it."""
        file = schema.file
        with writing(self._engine) as connection:
            version = raise_version(connection, version)
            connection.execute(sa.update(file).where(file.c.id == self.file_id).values(**self._place(fingerprint)))
        return version

    def _place(self, now: Print) -> dict[str, object]:
        """Where the file lies and how far it was read."""
        return {"path": str(self._found.path), "device": self._found.device, "inode": self._found.inode, **asdict(now)}

    def _ensure_log(self, connection: sa.Connection) -> int:
        if self._log_id is not None:
            return self._log_id
        new = sa.insert(schema.log).values(name=self._found.log_name, dialect=self._dialect, lines=0, understood=0, ignored=0, unread=0)
        return int(connection.execute(new.returning(schema.log.c.id)).scalar_one())

    def _check_point(self, connection: sa.Connection, piece: Piece, fingerprint: Print) -> int:
        file = schema.file
        header = piece.reading.carry.header
        values = {
            **self._place(fingerprint),
            "skipping": piece.block.skipping,
            "header": json.dumps(header) if header else None,
            "size": self._found.size if piece.block.final else None,
            "mtime_ns": self._found.mtime_ns if piece.block.final else None,
        }
        lines = len(piece.reading.verdicts)
        if self.file_id is None:
            new = sa.insert(file).values(log_id=self._log_id, lines=lines, apart=self.apart, **values)
            return int(connection.execute(new.returning(file.c.id)).scalar_one())
        connection.execute(sa.update(file).where(file.c.id == self.file_id).values(lines=file.c.lines + lines, **values))
        return self.file_id

    def _store(self, connection: sa.Connection, paired: Paired, open_file: int | None) -> None:
        table, log_id = schema.open_over, self._log_id
        ours = table.c.file_id.is_(None) if open_file is None else table.c.file_id == open_file
        connection.execute(sa.delete(table).where(table.c.log_id == log_id, ours))
        insert_frame(connection, table, paired.still_open, log_id=log_id, file_id=open_file)
        insert_frame(connection, schema.over, paired.overs, log_id=log_id)
        if paired.others.height:
            insert_frame(connection, schema.event, paired.others.select(EVENT_ROW), log_id=log_id)
        keep_longest(connection, int((paired.overs["end"] - paired.overs["start"]).fill_null(0).to_numpy().max(initial=0)))
        columns = [paired.overs["start"], paired.overs["end"], *([paired.others["t"]] if paired.others.height else [])]
        instants = np.concatenate([column.drop_nulls().to_numpy() for column in columns])
        if len(instants):
            forget_tallies(connection, int(instants.min()), int(instants.max()))

    def _count(self, connection: sa.Connection, read: Reading, counts: np.ndarray) -> None:
        log = schema.log
        values: dict = {
            "dialect": self._dialect,
            "lines": log.c.lines + len(read.verdicts),
            "understood": log.c.understood + int(counts[UNDERSTOOD]),
            "ignored": log.c.ignored + int(counts[IGNORED]),
            "unread": log.c.unread + int(counts[UNREAD]),
        }
        if not self.apart and read.carry.last_us is not None:
            values["carry_us"] = read.carry.last_us
        if read.stamped.any():
            first, last = int(read.stamps[read.stamped].min()), int(read.stamps[read.stamped].max())
            values["first_us"] = sa.case((log.c.first_us <= first, log.c.first_us), else_=first)
            values["last_us"] = sa.case((log.c.last_us >= last, log.c.last_us), else_=last)
        connection.execute(sa.update(log).where(log.c.id == self._log_id).values(**values))


def _load_open(connection: sa.Connection, log_id: int, file_id: int | None) -> pl.DataFrame:
    table = schema.open_over
    ours = table.c.file_id.is_(None) if file_id is None else table.c.file_id == file_id
    rows = connection.execute(
        sa.select(*(table.c[name] for name in OPEN_SCHEMA)).where(table.c.log_id == log_id, ours).order_by(table.c.id)
    )
    return pl.DataFrame([tuple(row) for row in rows], schema=OPEN_SCHEMA, orient="row")
