"""The journals of a station as they are read: on from their cursors."""

from collections.abc import Generator
from contextlib import closing
from dataclasses import dataclass

from parsers.engine import DialectReader
from server.config import Journal
from server.intake.batch_writer import BatchWriter
from server.intake.check_points import CheckPoint
from server.intake.context import Context, PassStopped
from server.intake.journal import NO_ENTRY, JournalError, batch_of, entries, fingerprint_after, journal_file
from server.intake.troubles import Trouble
from server.service import in_words
from server.store.engine import reading
from server.store.facts import Raced
from server.store.logs import cursor_of
from shared.errors import StoreError
from shared.text import escaped

JOURNAL_AGAIN_S = 1.0  # a journal that held nothing new is not looked into more often
ROTATED_AWAY = (
    "the entry that was read last is in the journal no more, so entries after it may be lost;"
    " reading goes on with the oldest one left."
)


@dataclass
class _HalfRead:
    """A journal that is being read, some entries at a time."""

    steps: Generator[str | None]  #: reads on, and gives the cursor after it; None where nothing came for now
    cursor: str | None  #: after what is stored


class JournalReadings:
    """Reads journals, and keeps those that are half read from pass to pass."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._half_read: dict[str, _HalfRead] = {}  # by name
        self._due: dict[str, float] = {}  # when one that held nothing new is looked into again

    def close(self) -> None:
        """Give up what is half read: its cursor is in the store."""
        while self._half_read:
            self._half_read.popitem()[1].steps.close()

    def is_due(self, journal: Journal) -> bool:
        context = self._context
        return context.retries.is_due(journal.name) and context.steady() >= self._due.get(journal.name, 0)

    def read_on(self, journal: Journal, number: int, known: CheckPoint | None) -> None:
        """Read what is new in a journal of the [[log]] of this number; what keeps it from being read is told, and it is
        tried again. In a pass of steps the next one goes on where journalctl has nothing to give for now. Raises
        Raced, StoreError, PassStopped.
        """
        name, retries = journal.name, self._context.retries
        half_read = self._taken_up(name) or _HalfRead(self._read(journal, number, known), self._cursor(name))
        try:
            whole = self._step_through(name, half_read)
        except JournalError as error:
            retries.failed(name, Trouble(name, str(error)))
        except (Raced, PassStopped, StoreError):
            raise
        except Exception as error:
            retries.failed(name, Trouble(name, escaped(in_words(error, f"Reading {name}"))))
        else:
            if whole and half_read.cursor is None:
                retries.failed(name, Trouble(name, f"{name}: {NO_ENTRY}"))
            elif whole:
                retries.passed(name)

    def _taken_up(self, name: str) -> _HalfRead | None:
        """The half-done reading of a journal, where nobody else has read on in it."""
        half_read = self._half_read.pop(name, None)
        if half_read is None or half_read.cursor == self._cursor(name):
            return half_read
        half_read.steps.close()
        return None

    def _step_through(self, name: str, half_read: _HalfRead) -> bool:
        """Whether the journal was read to its end; where not, the next pass goes on."""
        now = self._context.now
        for cursor in half_read.steps:
            half_read.cursor = cursor or half_read.cursor
            if now.stopping():
                half_read.steps.close()
                raise PassStopped
            if cursor is None and now.step_s is not None:
                self._half_read[name] = half_read
                now.result.more = True
                return False
        return True

    def _read(self, journal: Journal, number: int, known: CheckPoint | None) -> Generator[str | None]:
        """Reads what is new in a journal, batch by batch, and gives the cursor after each, None where nothing came for
        now. Raises JournalError, Raced, StoreError.
        """
        context, reader = self._context, self._context.readers[number]
        writer = BatchWriter(context, journal_file(journal, number), known, reader, apart=False)
        carry, cursor = writer.open(), self._cursor(journal.name)
        envelope = reader.envelope if isinstance(reader, DialectReader) else "none"
        count = before = known.fingerprint.offset if known else 0
        with closing(entries(journal, cursor, context.block_bytes)) as some:
            for these in some:
                if these is None:
                    yield None
                    continue
                batch = batch_of(these, reader, envelope, carry, count)
                carry, count, writer.cursor = batch.reading.carry, count + these.count, these.cursor
                writer.write(batch, fingerprint_after(count))
                if these.lost:
                    context.now.result.notes.append(f"{journal.name}: {ROTATED_AWAY}")
                context.now.tell_progress(0, journal.name)
                yield these.cursor
        context.now.result.files += count > before
        self._due[journal.name] = 0 if count > before else context.steady() + JOURNAL_AGAIN_S

    def _cursor(self, name: str) -> str | None:
        """The last entry that was read of a journal."""
        with reading(self._context.engine) as connection:
            return cursor_of(connection, name)
