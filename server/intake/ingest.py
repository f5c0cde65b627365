"""Read everything new in a station's logs: block by block through parser and pairing, rows and check-point in one
transaction.
"""

import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from server.config import Station
from server.intake.batches import bytes_of_a_block
from server.intake.check_points import CheckPoint, load_check_points
from server.intake.claims import Claims
from server.intake.context import FAR, Context, FilesMoved, Pass, PassResult, PassStopped, Progress
from server.intake.discovery import LogFile
from server.intake.file_readings import FileReadings, Inflated
from server.intake.journal_readings import JournalReadings
from server.intake.log_names import stored_text
from server.intake.moves import follow_moves
from server.intake.readers import Readers
from server.intake.troubles import Retries, Trouble, keep_troubles, load_troubles, merged
from server.intake.unpacking import DAMAGE
from server.service import in_words
from server.store.engine import Store, reading, writing
from server.store.facts import Raced, read_version
from server.store.files import keep_waiting
from shared.errors import StoreError
from shared.text import escaped

LOOKS = 100  # of one pass, while files move or another airtally stores


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
        self._retries = Retries(steady)
        self._context = Context(
            engine, station, Readers(station), block_bytes or bytes_of_a_block(), steady, now_us, self._retries
        )
        self._files = FileReadings(self._context)
        self._journals = JournalReadings(self._context)
        self._waiting: dict[str, str] | None = None  # sentences by path, as they were said last

    def waiting(self) -> int:
        """About how many bytes of log there are to read, for a progress bar."""
        files, _ = self._context.discover()
        return sum(file.size for file in files if not self._files.is_settled(file))

    def catch_up(
        self,
        progress: Progress | None = None,
        *,
        stopping: Callable[[], bool] = lambda: False,
        step_s: float | None = None,
    ) -> PassResult:
        """Read all that is new, the oldest first. With `step_s` the pass goes on to the other logs when a file that
        nobody writes any more took that long; the next pass goes on with it. Ends between two batches where `stopping`.
        Raises StoreError; what goes wrong with single logs is in the result.
        """
        self._look_at_dialects()
        self._context.now = now = Pass(progress, stopping, step_s)
        hindrance = Trouble("", "")
        for _look in range(LOOKS):
            try:
                self._pass()
                self._retries.passed("looks")
                break
            except Raced:  # another airtally was reading too: look again at what is left
                self._files.look_again()
                hindrance = Trouble("", f"Another airtally stored lines at each of {LOOKS} looks")
            except FilesMoved as moved:  # the files were rotated in between: look again at what lies where
                log = str(moved)
                hindrance = Trouble(
                    log, f"{escaped(log)}: its files were renamed, made or removed during each of {LOOKS} looks"
                )
            except PassStopped:
                break
        else:
            says = f"{hindrance.says}; this pass over the logs was given up, and the next one looks again."
            self._retries.failed("looks", Trouble(hindrance.log, says))
        now.result.hindrances = self._keep_troubles()
        return now.result

    def close(self) -> None:
        """Give up what is half read: its check-point is in the store."""
        self._files.close()
        self._journals.close()

    def _look_at_dialects(self) -> None:
        """Dialects may grow while logs are followed; one that is wrong for now is told, and the one before it stays in
        force.
        """
        try:
            self._context.readers.refresh()
        except Exception as error:  # whatever a file that is being written can do to its reader
            says = f"{in_words(error, 'Reading the dialects')} Logs are read with the dialect as it was before."
            self._retries.failed("dialects", Trouble("", escaped(says)))
        else:
            self._retries.passed("dialects")

    def _keep_troubles(self) -> list[Trouble]:
        """What stands in the way now, kept in the store where that has changed."""
        troubles = merged([*self._context.now.unlooked, *self._retries.troubles])
        with reading(self._context.engine) as connection:
            before = load_troubles(connection)
        if troubles != before:
            with writing(self._context.engine) as connection:
                keep_troubles(connection, troubles)
        return troubles

    def _pass(self) -> None:
        """Raises Raced, FilesMoved, PassStopped, StoreError."""
        now = self._context.now
        now.files, now.unlooked = self._context.discover()
        self._retries.keep(Path, (file.path for file in now.files))
        followed = self._follow_moves(now.files)
        with reading(self._context.engine) as connection:
            now.version = read_version(connection)
            known = load_check_points(connection)
        self._read_files(self._claim(followed, known))
        self._say_what_waits(now.claims.waiting)
        self._read_journals({row.log_name: row for row in reversed(known)})

    def _read_files(self, files: Iterable[LogFile]) -> None:
        now = self._context.now
        filled = {file.log_name: file for file in now.files if file.size}  # each log's newest file that holds anything
        half_read: set[str] = set()  # logs of which an older file is to be read to its end first
        now.result.more = False
        for file in files:
            if now.stopping():
                raise PassStopped
            if file.log_name in half_read or not self._retries.is_due(file.path, file.stamp):
                continue
            if not self._read_file(file, ended=_has_ended(file, filled)):
                now.result.more = True
                half_read |= {file.log_name} if self._files.holds_up(file) else set()

    def _read_file(self, file: LogFile, *, ended: bool) -> bool:
        """False where the next pass has to go on with the file. What goes wrong is told, and it is tried again."""
        try:
            whole = self._files.read_on(file, ended=ended)
        except FileNotFoundError as error:
            raise FilesMoved(file.log_name) from error
        except (Raced, FilesMoved, PassStopped, StoreError, KeyboardInterrupt, SystemExit):
            raise
        except BaseException as error:  # of any kind, a library's panics too: the other logs go on
            self._failed(file, error)
            return True
        self._retries.passed(file.path)
        return whole

    def _read_journals(self, known: Mapping[str, CheckPoint]) -> None:
        for number, log in enumerate(self._context.station.log):
            journal = log.read_from(self._context.station.folder)
            if journal is not None and self._journals.is_due(journal):
                self._journals.read_on(journal, number, known.get(journal.name))

    def _follow_moves(self, files: list[LogFile]) -> list[LogFile]:
        """Logs that moved get their new names. Gives the files of the logs for which that could be told."""
        try:
            moves = follow_moves(self._context.engine, files)
        except FileNotFoundError as error:
            raise FilesMoved("") from error
        self._context.now.result.notes += moves.notes
        self._tell_failed(moves.failed, "Looking whether {} has moved")
        return [file for file in files if file.log_name not in moves.failed]

    def _claim(self, files: list[LogFile], known: list[CheckPoint]) -> list[LogFile]:
        """Look whose files they are; gives those of the logs that could be looked at. The others are told."""
        try:
            claims = self._context.now.claims = Claims(files, known)
        except FileNotFoundError as error:
            raise FilesMoved("") from error
        self._tell_failed(claims.failed, "Looking at the files of {}")
        return [file for file in files if file.log_name not in claims.failed]

    def _tell_failed(self, failed: Mapping[str, Exception], doing: str) -> None:
        for log, error in failed.items():
            self._context.now.unlooked.append(Trouble(log, escaped(in_words(error, doing.format(log)))))

    def _say_what_waits(self, waiting: Mapping[LogFile, str]) -> None:
        """Says of each file once that it waits, and keeps it for the Intake page."""
        now = {stored_text(file.path): says for file, says in waiting.items()}
        if now == self._waiting:
            return
        before = self._waiting or {}
        self._context.now.result.notes += [says for path, says in now.items() if before.get(path) != says]
        self._waiting = now
        rows = [(stored_text(file.path), file.log_name, says) for file, says in waiting.items()]
        keep_waiting(self._context.engine, rows)

    def _failed(self, file: LogFile, error: BaseException) -> None:
        """Tell why a file can't be read on; it is tried again."""
        place = escaped(str(file.path))
        if isinstance(error, Inflated):
            says = f"{place}: {error}; it is not read further. Unpack it by hand if it is a log."
        elif isinstance(error, DAMAGE):
            why = getattr(error, "strerror", None) or str(error) or "it breaks off"
            says = f"{place}: can't be read to its end ({escaped(why)}); what came before is kept."
        else:
            says = escaped(in_words(error, f"Reading {place}"))
        self._retries.failed(file.path, Trouble(file.log_name, says), file.stamp, for_good=isinstance(error, Inflated))


def _has_ended(file: LogFile, filled: dict[str, LogFile]) -> bool:
    """Whether nobody writes the file any more, so that a last line without its end is whole."""
    return file.packed or (file.log_name in filled and filled[file.log_name].age_key > file.age_key)
