"""Following: one pass after another, woken by the file system, or by the clock where that stays silent."""

import os
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from watchdog.events import FileSystemEvent, FileSystemEventHandler
from watchdog.observers import Observer
from watchdog.observers.api import BaseObserver

from server.intake.context import PassResult
from server.intake.ingest import Intake
from server.service import Worker

SETTLE_S = 0.05  # after a change, so that a burst of lines is one batch
LOOK_AGAIN_S = 5.0  # logs that appear in folders that are not watched yet, and file systems that tell nothing
STEP_S = 2.0  # of reading a packed file, between looks at the other logs
LONGEST_S = 120.0  # without a block read


class _Waker(FileSystemEventHandler):
    def __init__(self, wake: Callable[[], None]) -> None:
        self._wake = wake

    def on_any_event(self, event: FileSystemEvent) -> None:
        if event.event_type not in ("opened", "closed_no_write"):
            self._wake()


class Follower:
    """Makes one pass after another. What goes wrong with single logs is told when it begins and when it has passed."""

    def __init__(
        self, intake: Intake, folders: list[Path], on_lines: Callable[[PassResult], None] = lambda _result: None
    ) -> None:
        self._intake = intake
        self._folders = folders
        self._on_lines = on_lines
        self._observer: BaseObserver | None = None
        self._watched: set[Path] = set()
        self._troubles: list[str] = []
        self.worker = Worker("intake", "Reading the logs", self._round, LONGEST_S, settle_s=SETTLE_S, on_end=self._end)
        self.caught_up = threading.Event()  #: set between passes: the store holds no half-read log

    @property
    def trouble(self) -> str | None:
        """Why nothing is read at the moment."""
        return self.worker.trouble

    def start(self) -> None:
        """Begin to follow."""
        self.worker.start()

    def stop(self) -> bool:
        """Finish the block that is read, and end; whether it did so in time."""
        return self.worker.stop()

    def _round(self) -> float:
        self._watch_folders()
        self.caught_up.clear()
        result = self._intake.catch_up(
            lambda _count, _path: self.worker.sign_of_life(), stopping=lambda: self.worker.stopping, step_s=STEP_S
        )  # fmt: skip
        self._tell(result.troubles)
        for note in result.notes:
            self.worker.tell(note)
        if not (result.more or self.worker.stopping):
            self.caught_up.set()
        if result.lines:
            self._on_lines(result)
        return 0.0 if result.more else LOOK_AGAIN_S

    def _tell(self, troubles: list[str]) -> None:
        for trouble in troubles:
            if trouble not in self._troubles:
                self.worker.tell(trouble)
        for trouble in self._troubles:
            if trouble not in troubles:
                self.worker.tell(f"It has passed: {trouble}")
        self._troubles = troubles

    def _watch_folders(self) -> None:
        """Be woken by what happens in the folders. Where the system has no more watches to give, or won't tell of one,
        the clock does it.
        """
        if self._observer is None:
            self._observer = Observer()
            with suppress(Exception):
                self._observer.start()
        for folder in self._folders:
            if folder not in self._watched and os.path.isdir(folder):
                with suppress(Exception):
                    self._observer.schedule(_Waker(self.worker.wake), str(folder))
                    self._watched.add(folder)

    def _end(self) -> None:
        self._intake.close()
        if self._observer is not None and self._observer.is_alive():
            self._observer.stop()
            self._observer.join(timeout=2)
