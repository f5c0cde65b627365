"""Work on what anybody may have written, in a process of its own: bounded in time and memory, and ended when nobody
waits for it any more.

The process runs `python -m server.bounded`, gets a pickled task on its standard input and gives the pickled result on
its standard output."""

import importlib
import os
import pickle
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from typing import Any

from shared.errors import AirtallyError, UnusableError

MEMORY_BYTES = 640 << 20  #: of data; the libraries alone take 160 MB
SPACE_BYTES = 8 << 30  #: of addresses, mapped files too
SECONDS = 60.0
LOOK_S = 0.05
#: One thread a library: the work is to be done beside what the machine is for.
QUIET = {"POLARS_MAX_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}


class Left(AirtallyError):
    """Nobody waits for the result any more."""


def run(
    work: Callable[[Any], Any], task: Any, *, left: Callable[[], bool] = lambda: False, seconds: float = SECONDS
) -> Any:
    """`work(task)`, a function of a module, in a process of its own. Raises UnusableError with its sentence where it
    refuses or goes beyond its bounds, and Left as soon as `left()`.
    """
    where = os.pathsep.join(path for path in sys.path if path)
    with tempfile.TemporaryFile() as asked, tempfile.TemporaryFile() as answered:
        pickle.dump((work.__module__, work.__name__, seconds, task), asked)
        asked.seek(0)
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", "server.bounded"],
            stdin=asked,
            stdout=answered,
            stderr=subprocess.DEVNULL,
            env={**os.environ, **QUIET, "PYTHONPATH": where},
            start_new_session=True,  # Ctrl-C is for the one who started it
        )
        try:
            _wait(process, time.monotonic() + seconds + 5, left)  # the process's own limit is of the processor's time
        finally:
            if process.poll() is None:
                process.kill()
            process.wait()
        answered.seek(0)
        said = answered.read()
    if process.returncode != 0 or not said:
        raise UnusableError(
            f"This takes more than {seconds:.0f} s or more than {MEMORY_BYTES >> 20} MB of memory, so it was ended: "
            "teach a smaller part of the log, "
            "or run `airtally adopt` on it."
        )
    good, result = pickle.loads(said)
    if not good:
        raise UnusableError(result)
    return result


def _wait(process: subprocess.Popen[bytes], until: float, left: Callable[[], bool]) -> None:
    while process.poll() is None and time.monotonic() < until:
        if left():
            raise Left("This was ended, as the page was left or another log was begun.")
        time.sleep(LOOK_S)


class OneAtATime:
    """One piece of work at a time for each of those who ask: what is new ends what is old. So many at once for all of
    them.
    """

    def __init__(self, at_once: int = 2) -> None:
        self._slots = threading.BoundedSemaphore(at_once)
        self._running: dict[str, object] = {}
        self._lock = threading.Lock()

    def run(self, who: str, work: Callable[[Callable[[], bool]], Any], left: Callable[[], bool]) -> Any:
        """`work(left)`; its `left` also holds once `who` asks for other work. Raises Left."""
        mine = object()

        def over() -> bool:
            return left() or self._running.get(who) is not mine

        with self._lock:
            self._running[who] = mine
        try:
            while not self._slots.acquire(timeout=LOOK_S):
                if over():
                    raise Left("This was ended, as the page was left or another log was begun.")
            try:
                return work(over)
            finally:
                self._slots.release()
        finally:
            with self._lock:
                if self._running.get(who) is mine:
                    del self._running[who]


def _main() -> None:
    module, name, seconds, task = pickle.load(sys.stdin.buffer)
    answer = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints is no answer
    os.nice(10)
    for limit, value in (
        (resource.RLIMIT_CPU, int(seconds) + 1),
        (resource.RLIMIT_DATA, MEMORY_BYTES),
        (resource.RLIMIT_AS, SPACE_BYTES),
        (resource.RLIMIT_CORE, 0),
    ):
        resource.setrlimit(limit, (value, value))
    try:
        result = True, getattr(importlib.import_module(module), name)(task)
    except AirtallyError as error:
        result = False, str(error)
    except MemoryError:
        os._exit(1)
    except Exception as error:
        result = (
            False,
            f"This met a defect of airtally's own ({type(error).__name__}); `airtally adopt` on the log says what to "
            "report.",
        )
    pickle.dump(result, answer)
    answer.flush()
    os._exit(0)  # no time for tidying up: the process is all there was


if __name__ == "__main__":
    _main()
