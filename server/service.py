"""What runs beside the pages: workers that make one round after another, each in a thread of its own, and the
supervisor over them.

A round that raises anything at all is told once, in words, and tried again with back-off: it ends neither the thread
nor another worker. A thread that ends or hangs all the same is seen by `Supervisor.health`, which asks when each worker
made its last round."""

import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from shared.errors import AirtallyError
from shared.redaction import redacted
from shared.text import escaped

BACK_OFF_S = (1.0, 2.0, 5.0, 15.0, 60.0)
STOP_WITHIN_S = 15.0

Tell = Callable[[str], None]


@dataclass(frozen=True)
class Fault:
    """One part that does not do its work now."""

    part: str  #: `intake`, `watch`, `outbox`, `store`, `report` or `heartbeat`
    says: str  #: one sentence without paths or secrets: anybody may read it
    why: str = ""  #: what it met, in a sentence for the keeper: it may name paths and hold text from outside


@dataclass(frozen=True)
class Health:
    """Which parts don't do their work now."""

    faults: tuple[Fault, ...] = ()
    remarks: tuple[Fault, ...] = ()  #: what somebody else has to mend, while every part does its work

    @property
    def is_well(self) -> bool:
        return not self.faults

    @property
    def says(self) -> str:
        """One sentence of what does not work, for anybody; empty where all is well."""
        return " ".join(fault.says for fault in self.faults)


def tell_keeper(sentence: str) -> None:
    """Say it on standard error."""
    print(f"airtally: {escaped(sentence)}", file=sys.stderr, flush=True)


def in_words(error: BaseException, doing: str) -> str:
    """What went wrong, in a sentence. An error that nobody foresaw is called a defect; addresses in it are left out, as
    they may hold a password.
    """
    if isinstance(error, AirtallyError):
        return str(error)
    if isinstance(error, OSError) and error.strerror:
        where = f"{_path_text(error.filename)}: " if error.filename is not None else ""
        return f"{where}{error.strerror} ({doing})."
    message = redacted(str(error)).strip()
    return f"{doing} met a defect of airtally's own: {type(error).__name__}{f': {message}' if message else ''}."


def _path_text(name: object) -> str:
    return name.decode("utf-8", "surrogateescape") if isinstance(name, bytes) else str(name)


class Worker:
    """Makes one round after another in a thread of its own until it is stopped."""

    def __init__(
        self,
        part: str,
        doing: str,
        make_round: Callable[[], float],
        longest_s: float,
        *,
        settle_s: float = 0.0,
        on_end: Callable[[], None] = lambda: None,
        steady: Callable[[], float] = time.monotonic,
    ) -> None:
        """`make_round` gives the seconds until the next one, which `wake` cuts short (`settle_s` after it). `doing`
        begins a sentence, as in "Reading the logs". The worker counts as hung when it gave no sign of life for
        `longest_s` beyond the wait it announced. `on_end` runs in the thread when it ends. `steady` gives seconds of a
        clock that nobody sets.
        """
        self.part, self._doing, self._make_round, self._longest_s = part, doing, make_round, longest_s
        self._settle_s, self._on_end, self._steady = settle_s, on_end, steady
        self._wake = threading.Event()
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name=part, daemon=True)
        self._started = self._lived = False
        self._due: float = 0.0  # `steady` by which a sign of life is due
        self._failures = 0
        self.trouble: str | None = None  #: why the last round failed, for the keeper
        self.remark: Fault | None = None  #: what somebody else has to mend, while the rounds go well
        self.rounds = 0  #: how many were made without trouble
        self.tell: Tell = tell_keeper  #: where it says what it met

    def start(self) -> None:
        self._due = self._steady() + self._longest_s
        self._started = True
        self._thread.start()

    def wake(self) -> None:
        """There is something to do."""
        self._wake.set()

    def sign_of_life(self) -> None:
        """A long round goes on: its work moves."""
        self._lived = True
        self._due = self._steady() + self._longest_s

    @property
    def stopping(self) -> bool:
        """Whether a round should end as soon as what it has begun is whole."""
        return self._stopping.is_set()

    def ask_to_stop(self) -> None:
        self._stopping.set()
        self._wake.set()

    def stop(self, within_s: float = STOP_WITHIN_S) -> bool:
        """Let it finish what it has begun, and end; whether it did so in time."""
        self.ask_to_stop()
        if self._started:
            self._thread.join(timeout=max(0.0, within_s))
        return not self._thread.is_alive()

    def fault(self) -> Fault | None:
        """What is wrong with it now, if anything."""
        if not self._started:
            return Fault(self.part, f"{self._doing} has not begun yet.")
        if not self._thread.is_alive():
            return Fault(self.part, f"{self._doing} has ended; airtally must be started again.", self.trouble or "")
        if self.trouble is not None:
            return Fault(self.part, f"{self._doing} fails, and is tried again.", self.trouble)
        if self._steady() > self._due:
            return Fault(self.part, f"{self._doing} has given no sign of life for over {self._longest_s:.0f} s.")
        if not self._lived:
            return Fault(self.part, f"{self._doing} has not made its first round yet.")
        return None

    def _run(self) -> None:
        try:
            while not self.stopping:
                self._wake.clear()
                wait_s = self._round()
                self._due = self._steady() + wait_s + self._longest_s
                if self._failures:
                    self._stopping.wait(wait_s)
                elif self._wake.wait(max(0.0, wait_s)):
                    self._stopping.wait(self._settle_s)
        finally:
            self._on_end()

    def _round(self) -> float:
        """One round; the seconds to wait after it."""
        self._due = self._steady() + self._longest_s
        try:
            wait_s = self._make_round()
        except BaseException as error:  # a library's own panics are no Exception, and must not end the thread either
            trouble = in_words(error, self._doing)
            self._failures += 1
            if trouble != self.trouble:
                self.tell(trouble)
            self.trouble = trouble
            return BACK_OFF_S[min(self._failures, len(BACK_OFF_S)) - 1]
        if self.trouble is not None:
            self.tell(f"{self._doing} works again; nothing was left out.")
        self._failures, self.trouble, self._lived = 0, None, True
        self.rounds += 1
        return wait_s


class Supervisor:
    """Starts and stops workers together, and knows which of them don't do their work."""

    def __init__(self, store_is_read: Callable[[], object] = lambda: None) -> None:
        """`store_is_read` raises AirtallyError where the store can't be read."""
        self._store_is_read = store_is_read
        self._workers: list[Worker] = []

    def add(self, *workers: Worker) -> None:
        """Take workers in. What several of them meet, a locked store for one, is told by the first one only."""
        for worker in workers:
            worker.tell = partial(self._tell_first, worker)
        self._workers += workers

    def _tell_first(self, teller: Worker, sentence: str) -> None:
        if not any(worker.trouble == sentence for worker in self._workers if worker is not teller):
            tell_keeper(sentence)

    def start(self) -> None:
        for worker in self._workers:
            worker.start()

    def stop(self, within_s: float = STOP_WITHIN_S) -> Sequence[str]:
        """Ask all to stop at once, wait for each; the parts that did not end in time."""
        until = time.monotonic() + within_s
        for worker in self._workers:
            worker.ask_to_stop()
        return [worker.part for worker in self._workers if not worker.stop(until - time.monotonic())]

    def health(self, asked_by: str = "") -> Health:
        """Whether every part does its work, asked of all of them now, but of the one that asks."""
        faults = [fault for worker in self._workers if worker.part != asked_by and (fault := worker.fault())]
        try:
            self._store_is_read()
        except Exception as error:  # whatever it is, the store can't be read
            faults.append(Fault("store", "The store can't be read.", in_words(error, "Reading the store")))
        return Health(tuple(faults), tuple(worker.remark for worker in self._workers if worker.remark is not None))
