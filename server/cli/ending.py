"""An end in order: SIGTERM and SIGINT let what was begun be finished, within a time that whoever stops services
grants."""

import os
import signal
import sys
import threading
from collections.abc import Generator
from contextlib import AbstractContextManager, contextmanager
from socket import socket
from types import FrameType, TracebackType

import uvicorn

from server.service import Supervisor, tell_keeper
from server.store.engine import close_stores

WITHIN_S = 18.0  # from the signal to the end; service managers and containers may grant no more than 20 s or so
WORKERS_S = 16.0  # of it
CONNECTIONS_S = 5  # for answers that are being given


class Pages(uvicorn.Server):
    """uvicorn's server, which leaves signals to whoever runs it."""

    @contextmanager
    def capture_signals(self) -> Generator[None]:
        yield


class Ending(AbstractContextManager["Ending"]):
    """Between its begin and its end the first signal stops workers and pages in order; a second one ends at once."""

    def __init__(self, supervisor: Supervisor) -> None:
        self._supervisor = supervisor
        self._server: uvicorn.Server | None = None
        self._asked, self._done = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._end, name="ending", daemon=True)
        self.late: tuple[str, ...] = ()  #: workers that did not end in time

    def run(self, server: "Pages", listener: socket) -> None:
        """Serve until a signal asks for the end."""
        self._server = server
        if not self._asked.is_set():
            server.run(sockets=[listener])

    def __enter__(self) -> "Ending":
        self._before = {number: signal.signal(number, self._on_signal) for number in (signal.SIGTERM, signal.SIGINT)}
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._asked.set()
        self._thread.join(WITHIN_S)
        self._done.set()
        for number, handler in self._before.items():
            signal.signal(number, handler)

    def _on_signal(self, number: int, _frame: FrameType | None) -> None:
        if self._asked.is_set():
            os._exit(128 + number)
        self._asked.set()
        if self._server is not None:
            self._server.should_exit = True

    def _end(self) -> None:
        """The workers' end, while the pages end by themselves."""
        self._asked.wait()
        threading.Thread(target=self._cut_off, name="cut-off", daemon=True).start()
        self.late = tuple(self._supervisor.stop(WORKERS_S))
        for part in self.late:
            tell_keeper(f"{part} did not end in time; what it was doing is taken up at the next start.")

    def _cut_off(self) -> None:
        """Nothing may hold up the process for longer, be it a page that takes its time."""
        if not self._done.wait(WITHIN_S):
            leave()


def leave() -> None:
    """End the process though threads of it still run; what they stored is in the one file."""
    close_stores()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(0)
