"""The files of a station as they are read: on from their check-points, those that ended in steps."""

from collections.abc import Generator
from contextlib import closing
from dataclasses import dataclass

from parsers.reading import Carry
from server.intake.batch_writer import BatchWriter
from server.intake.batches import Batch, parsed
from server.intake.blocks import blocks
from server.intake.check_points import load_check_points
from server.intake.claims import Claim
from server.intake.context import Context, FilesMoved, PassStopped
from server.intake.dating import MOST_EXPANSION, Dating, most_bytes
from server.intake.discovery import LogFile
from server.intake.fingerprints import Beginning, Fingerprint, resume
from server.intake.unpacking import DAMAGE, Stream, open_log
from server.store.engine import reading


class Inflated(Exception):
    """A packed file holds more than any log would."""


@dataclass
class _HalfRead:
    """A file that is being read, a batch at a time."""

    steps: Generator[int]  #: reads a batch more, and gives the offset after it
    apart: bool  #: the newer files of its log need not wait for it
    offset: int | None = None  #: after what is stored; None before the first batch


def _places(files: list[LogFile]) -> set[tuple[str, int, int]]:
    """Which file lies under which name."""
    return {(str(file.path), file.device, file.inode) for file in files}


class FileReadings:
    """Reads files, and keeps those that are half read from pass to pass."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._dating = Dating(context)
        self._half_read: dict[tuple[int, int], _HalfRead] = {}  # by device and inode
        self._settled: set[tuple[int, int, int, int]] = set()  # stamps of files that hold nothing new

    def is_settled(self, file: LogFile) -> bool:
        """Whether the file was read to its end."""
        return file.stamp in self._settled

    def look_again(self) -> None:
        """Take no file for read to its end: another airtally stores too."""
        self._settled.clear()

    def holds_up(self, file: LogFile) -> bool:
        """Whether the newer files of a half-read file's log have to wait for it."""
        return not self._half_read[file.device, file.inode].apart

    def close(self) -> None:
        """Give up what is half read: its check-point is in the store."""
        while self._half_read:
            self._half_read.popitem()[1].steps.close()

    def read_on(self, file: LogFile, *, ended: bool) -> bool:
        """Read what is new in a file; False where that took longer than a step, and the rest is to come."""
        place, now = (file.device, file.inode), self._context.now
        before = self._half_read.pop(place, None)
        claim = now.claims.of(file)
        half_read = _taken_up(before, claim)
        if half_read is None:
            if claim is None or self._has_nothing_new(claim):
                return True
            half_read = _HalfRead(self._read(claim, ended), claim.stands_apart)
        until = None if now.step_s is None or file.live else self._context.steady() + now.step_s
        for offset in half_read.steps:
            half_read.offset = offset
            if now.stopping():
                half_read.steps.close()
                raise PassStopped
            if until is not None and self._context.steady() >= until:
                self._half_read[place] = half_read
                return False
        return True

    def _has_nothing_new(self, claim: Claim) -> bool:
        """Whether the file was read to its end, and lies where it did."""
        known = claim.check_point
        if known is None:
            return self.is_settled(claim.file)
        return (self.is_settled(claim.file) or known.stamp == claim.file.stamp) and not claim.is_renamed

    def _read(self, claim: Claim, ended: bool) -> Generator[int]:
        """Reads what is new in a file, batch by batch, and tells the claims what it holds, be it that the file breaks
        off. Gives the offset after each batch. Raises DAMAGE, Inflated, Raced, StoreError, FilesMoved.
        """
        file, known, context = claim.file, claim.check_point, self._context
        with open_log(file.path) as stream:
            self._stay_put(file, ended=ended)
            beginning = resume(stream, known.fingerprint, file.packed) if known else Beginning()
            if beginning is None:  # the next pass sees what it has become
                return
            writer = BatchWriter(context, file, known, context.readers[file.setting], apart=claim.stands_apart)
            touched = False
            try:
                with closing(self._batches(stream, beginning, claim, writer.open(), ended)) as batches:
                    for batch, fingerprint in batches:
                        writer.write(batch, fingerprint)
                        context.now.result.files += not touched
                        touched = True
                        context.now.tell_progress(len(batch.block.data) + len(batch.block.passed), str(file.path))
                        yield fingerprint.offset
            except DAMAGE:
                self._note_holder(writer, file)
                raise
            self._finish(writer, claim, touched)

    def _finish(self, writer: BatchWriter, claim: Claim, touched: bool) -> None:
        if writer.apart and touched:
            writer.close_apart()
        if claim.check_point is not None and claim.has_moved and not touched:
            writer.move(claim.check_point.fingerprint)
        self._settled.add(claim.file.stamp)
        self._note_holder(writer, claim.file)

    def _stay_put(self, file: LogFile, *, ended: bool) -> None:
        """Raises FilesMoved where the files no longer lie as they were found. Asked once the file is open: the newest
        file of a log, read while a rotation was seen by half, would be read before the older lines that it goes on
        from.
        """
        try:
            status = file.path.stat()
        except OSError as error:
            raise FilesMoved(file.log_name) from error
        here = (status.st_dev, status.st_ino) == (file.device, file.inode)
        if not here or (not ended and _places(self._context.discover()[0]) != _places(self._context.now.files)):
            raise FilesMoved(file.log_name)

    def _note_holder(self, writer: BatchWriter, file: LogFile) -> None:
        """Tell the claims what the file holds now."""
        if writer.file_id is not None:
            with reading(self._context.engine) as connection:
                self._context.now.claims.took(file, load_check_points(connection, writer.file_id)[0])

    def _batches(
        self, stream: Stream, beginning: Beginning, claim: Claim, carry: Carry, ended: bool
    ) -> Generator[tuple[Batch, Fingerprint]]:  # fmt: skip
        """The batches of a file, each with the fingerprint of the file up to its end."""
        file, reader = claim.file, self._context.readers[claim.file.setting]
        offset, skipping = claim.place
        carry, near = self._dating.carry_into(claim, reader, carry, ended)
        unparsed = blocks(stream, offset, self._context.block_bytes, skipping=skipping, ended=ended)
        for batch in parsed(unparsed, reader, carry, near):
            block = batch.block
            beginning, fingerprint = beginning.grow(block.passed + block.data, block.offset)
            yield batch, fingerprint
            if file.packed and block.offset > most_bytes(file):
                raise Inflated(f"holds over {MOST_EXPANSION} times as much as it takes on the disk")


def _taken_up(half_read: _HalfRead | None, claim: Claim | None) -> _HalfRead | None:
    """A half-done reading, where nobody else has read on in its file."""
    if half_read is None or (claim is not None and claim.offset == half_read.offset):
        return half_read
    half_read.steps.close()
    return None
