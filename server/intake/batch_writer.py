"""What a batch of a file leaves in the store, with the file's check-point in the same transaction."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from parsers.reading import Carry, Reader, Reading
from server.intake.batches import Batch
from server.intake.check_points import CheckPoint
from server.intake.clock_changes import STEPPED, steps_back
from server.intake.context import FAR, Context
from server.intake.discovery import LogFile
from server.intake.fingerprints import Fingerprint
from server.intake.log_names import stored_text
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
from server.store.arrivals import NO_STAMP, Arrival, add_arrival
from server.store.engine import Connection, reading, writing
from server.store.facts import keep_longest, raise_version, set_fact
from server.store.files import add_file, count_read_with, keep_file, last_header
from server.store.lines import add_line_hours, keep_unread
from server.store.logs import bounds_of_log, carry_of_log, count_lines, make_log, note_carrying
from server.store.paired import add_events, add_overs, keep_open_starts, open_starts
from server.store.tallies import forget_tallies
from shared.events import IGNORED, UNDERSTOOD, UNREAD

BLANKS_COUNTED = 1_000  # lines that hold nothing, of a block: by the stamp before them, as other lines without one
VERDICTS = ("understood", "ignored", "unread")  # the names of UNDERSTOOD, IGNORED, UNREAD
Began = dict[tuple[int, str | None, int | None], int | None]
#: start, mode and slot of an open over -> file of its start line


class BatchWriter:
    """Commits the batches of one file: rows, open overs and check-point together."""

    def __init__(
        self, context: Context, file: LogFile, known: CheckPoint | None, reader: Reader, *, apart: bool
    ) -> None:  # fmt: skip
        self._context = context
        self._file = file
        self._reader = reader
        self._own = known.own_bytes if known else None
        self._log_id = known.log_id if known else None
        self._header = json.loads(known.header) if known and known.header else None
        self.file_id = known.id if known else None
        self.apart = apart
        self.cursor: str | None = None  #: of a journal: the last entry of the batch that is written next

    def open(self) -> Carry:
        """What the piece before the next one handed on."""
        header = tuple(self._header) if self._header else None
        with reading(self._context.engine) as connection:
            log = carry_of_log(connection, self._file.log_name, self._log_id)
            if log is None:
                return Carry(None, header)
            self._log_id, carry_us = log
            if header is None:
                header = last_header(connection, self._log_id)
        return Carry(None if self.apart else carry_us, header)

    def write(self, batch: Batch, fingerprint: Fingerprint) -> None:
        """One transaction. Raises Raced, StoreError."""
        read, result = batch.reading, self._context.now.result
        counts = np.bincount(read.verdicts, minlength=3)
        with self._transaction() as connection:
            self._log_id = self._ensure_log(connection)
            self.file_id = self._check_point(connection, batch, fingerprint)
            open_file = self.file_id if self.apart else None
            opened, began = _load_open(connection, self._log_id, open_file)
            paired = pair(opened, read.events)
            self._store(connection, paired, began, open_file)
            if carries_overs(paired):
                note_carrying(connection, self._log_id)
            self._forget_blind_time(connection, read, paired)
            add_line_hours(connection, self._log_id, self.file_id, read.stamps, _counted(batch), read.verdicts)
            self._keep_arrival(connection, batch)
            if steps := steps_back(read.stamps[read.stamped]):
                set_fact(connection, STEPPED + self._file.log_name, str(steps[-1]))
            self._keep_unread(connection, batch)
            self._count(connection, read, counts)
        result.lines += len(read.verdicts)
        result.understood += int(counts[UNDERSTOOD])
        result.ignored += int(counts[IGNORED])
        result.unread += int(counts[UNREAD])
        result.overs += paired.overs.height

    @contextmanager
    def _transaction(self) -> Iterator[Connection]:
        """One on the store version that this pass knows. Raises Raced where somebody else has stored meanwhile."""
        now = self._context.now
        with writing(self._context.engine) as connection:
            version = raise_version(connection, now.version)
            yield connection
        now.version = version

    def _keep_unread(self, connection: Connection, batch: Batch) -> None:
        read = batch.reading
        unread = np.flatnonzero(read.verdicts == UNREAD)
        if len(unread):
            assert self._log_id is not None and self.file_id is not None
            stamps = [
                int(t) if stamped else None
                for t, stamped in zip(read.stamps[unread], read.stamped[unread], strict=True)
            ]
            keep_unread(connection, self._log_id, self.file_id, stamps, batch.unread)

    def _keep_arrival(self, connection: Connection, batch: Batch) -> None:
        """Lines at the end of a live file that have no stamp of their own came when the file changed last."""
        read, file = batch.reading, self._file
        if not read.bare or not batch.block.final or not file.live or not file.mtime_ns:
            return
        assert self._log_id is not None and self.file_id is not None
        under = int(read.stamps[-1]) if read.stamped[-1] else NO_STAMP
        came = max(min(file.mtime_ns // 1000, self._context.now_us()), under)
        unread = int((read.verdicts[-read.bare :] == UNREAD).sum())
        add_arrival(connection, self._log_id, self.file_id, Arrival(came, under, read.bare, unread))

    def close_apart(self) -> None:
        """A file that stands apart has been read to its end: what is open in it stays unfinished."""
        assert self._log_id is not None
        with self._transaction() as connection:
            left, began = _load_open(connection, self._log_id, self.file_id)
            self._store(connection, Paired(leave_unfinished(left), nothing_open(), pl.DataFrame()), began, self.file_id)

    def move(self, fingerprint: Fingerprint) -> None:
        """The content lies elsewhere now, or is an older state of it."""
        with self._transaction() as connection:
            keep_file(connection, self.file_id, self._place(fingerprint))

    def _place(self, now: Fingerprint) -> dict[str, object]:
        """Where the file lies and how far it was read."""
        return {
            "path": stored_text(self._file.path),
            "device": self._file.device,
            "inode": self._file.inode,
            **asdict(now),
        }

    def _ensure_log(self, connection: Connection) -> int:
        if self._log_id is not None:
            return self._log_id
        return make_log(connection, self._file.log_name, self._reader.name)

    def _check_point(self, connection: Connection, batch: Batch, fingerprint: Fingerprint) -> int:
        header = batch.reading.carry.header
        values = {
            **self._place(fingerprint),
            "skipping": batch.block.skipping,
            "header": json.dumps(header) if header else None,
            "size": self._file.size if batch.block.final else None,
            "mtime_ns": self._file.mtime_ns if batch.block.final else None,
        }
        counts = dict(zip(VERDICTS, np.bincount(batch.reading.verdicts, minlength=3).tolist(), strict=True))
        counts["lines"] = len(batch.reading.verdicts)
        if self._own is None:
            self._own = values["own_bytes"] = _first_understood(batch)
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

    def _forget_blind_time(self, connection: Connection, read: Reading, paired: Paired) -> None:
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
        forget_tallies(connection, first - self._context.quiet_us, last + self._context.quiet_us)

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
    files = [others] * overs.height
    starts = {start for start, _mode, _slot in began}
    for at in np.flatnonzero(overs["start"].is_in(list(starts)).to_numpy()).tolist() if starts else []:
        files[at] = began.get((overs["start"][at], overs["mode"][at], overs["slot"][at]), others)
    return pl.Series("began_id", files, dtype=pl.Int64)


def _counted(batch: Batch) -> npt.NDArray[np.bool_]:
    """The lines (n,) that windows count; a packed file of nothing but blank ones costs nothing."""
    stamped = batch.reading.stamped
    if batch.blank is None or len(batch.blank) <= BLANKS_COUNTED:
        return stamped
    counted = stamped.copy()
    counted[batch.blank[BLANKS_COUNTED:]] = False
    return counted


def _first_understood(batch: Batch) -> int | None:
    """Where in its file the first line ends that was understood."""
    at = int(np.argmax(batch.reading.verdicts == UNDERSTOOD)) if len(batch.reading.verdicts) else 0
    if not len(batch.reading.verdicts) or batch.reading.verdicts[at] != UNDERSTOOD:
        return None
    data = batch.block.data
    rest = data.split(b"\n", at + 1)[at + 1 :]
    return batch.block.offset - (len(rest[0]) if rest else 0)
