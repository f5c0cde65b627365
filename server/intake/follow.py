"""Following: one pass after another, woken by the file system, or by the clock where that stays silent."""

import sys
import threading
from collections.abc import Callable
from pathlib import Path

from watchdog.events import FileSystemEvent, FileSystemEventHandler
from watchdog.observers import Observer

from server.intake.ingest import Caught, Intake
from shared.errors import StoreError

SETTLE_S = 0.05  # after a change, so that a burst of lines is one batch
LOOK_AGAIN_S = 5.0  # logs that appear in folders that are not watched yet, and file systems that tell nothing
RETRY_S = (1.0, 2.0, 5.0, 15.0, 60.0)


class _Waker(FileSystemEventHandler):
    def __init__(self, wake: threading.Event) -> None:
        self._wake = wake

    def on_any_event(self, event: FileSystemEvent) -> None:
        if event.event_type not in ("opened", "closed_no_write"):
            self._wake.set()


class Follower:
    """Runs passes in a thread of its own until it is stopped. Trouble with the store is said once, and tried again."""

    def __init__(self, intake: Intake, folders: list[Path], on_caught: Callable[[Caught], None] = lambda _caught: None) -> None:
        self._intake = intake
        self._folders = folders
        self._on_caught = on_caught
        self._wake = threading.Event()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="intake", daemon=True)
        self.trouble: str | None = None  #: why nothing is read at the moment
        self.caught_up = threading.Event()  #: set between passes: the store holds no half-read log

    def start(self) -> None:
        """Begin to follow."""
        self._thread.start()

    def stop(self) -> None:
        """Finish the pass that runs, and end."""
        self._stop.set()
        self._wake.set()
        self._thread.join()

    def _run(self) -> None:
        observer = Observer()
        watched: set[Path] = set()
        observer.start()
        failures = 0
        try:
            while not self._stop.is_set():
                for folder in self._folders:
                    if folder not in watched and folder.is_dir():
                        try:
                            observer.schedule(_Waker(self._wake), str(folder))
                            watched.add(folder)
                        except OSError:  # no more watches to be had: the clock does it
                            pass
                self._wake.clear()
                failures = failures + 1 if not self._pass_went_well() else 0
                if failures:
                    self._stop.wait(RETRY_S[min(failures, len(RETRY_S)) - 1])
                elif self._wake.wait(LOOK_AGAIN_S):
                    self._stop.wait(SETTLE_S)
        finally:
            observer.stop()
            observer.join()

    def _pass_went_well(self) -> bool:
        self.caught_up.clear()
        try:
            caught = self._intake.catch_up()
        except StoreError as error:
            if self.trouble != str(error):
                self.trouble = str(error)
                print(f"airtally: {error}", file=sys.stderr, flush=True)
            return False
        if self.trouble:
            print("airtally: the store can be written again; nothing was left out.", file=sys.stderr, flush=True)
            self.trouble = None
        for trouble in caught.troubles + caught.notes:
            print(f"airtally: {trouble}", file=sys.stderr, flush=True)
        self.caught_up.set()
        if caught.lines:
            self._on_caught(caught)
        return True
