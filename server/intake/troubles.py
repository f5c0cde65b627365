"""What goes wrong while logs are read: told by log, tried again with back-off, forgotten when it has passed."""

import json
import time
from collections.abc import Callable, Hashable, Iterable
from dataclasses import asdict, dataclass

from server.store.engine import Connection
from server.store.facts import raise_version, read_fact, set_fact

FACT = "intake.troubles"
RETRY_S = (1.0, 2.0, 5.0, 15.0, 60.0, 300.0)
QUICK_TRIES = 3  #: a file that changed is tried again at once this often; then it waits as others do


@dataclass(frozen=True)
class Trouble:
    """What keeps a log from being read as it should be."""

    log: str  #: the log's name, or the path of a [[log]] where no log is known yet; empty where it is about all of them
    says: str  #: one sentence, names of files escaped

    def __str__(self) -> str:
        return self.says


@dataclass(frozen=True)
class _Failure:
    trouble: Trouble
    state: Hashable  #: of what failed, when it did
    tries: int
    due: float


class Retries:
    """What failed, and when it is tried again."""

    def __init__(self, steady: Callable[[], float] = time.monotonic) -> None:
        self._steady = steady
        self._failures: dict[Hashable, _Failure] = {}

    def is_due(self, what: Hashable, state: Hashable = None) -> bool:
        """Whether it has not failed, or is to be tried again now; at once where its `state` has changed since, but not
        again and again.
        """
        failure = self._failures.get(what)
        if failure is None or self._steady() >= failure.due:
            return True
        return failure.state != state and failure.tries <= QUICK_TRIES

    def failed(self, what: Hashable, trouble: Trouble, state: Hashable = None, *, for_good: bool = False) -> None:
        """It failed; with `for_good` it is not tried again before its state changes."""
        before = self._failures.get(what)
        tries = before.tries + 1 if before else 1
        wait = float("inf") if for_good else RETRY_S[min(tries, len(RETRY_S)) - 1]
        self._failures[what] = _Failure(trouble, state, 0 if for_good else tries, self._steady() + wait)

    def passed(self, what: Hashable) -> None:
        self._failures.pop(what, None)

    def keep(self, kind: type, there: Iterable[Hashable]) -> None:
        """Of the failures whose key is of this kind, forget those of things that are no longer there."""
        left = set(there)
        self._failures = {
            what: failure for what, failure in self._failures.items() if not isinstance(what, kind) or what in left
        }

    @property
    def troubles(self) -> list[Trouble]:
        return [failure.trouble for failure in self._failures.values()]


def load_troubles(connection: Connection) -> list[Trouble]:
    """What stood in the way at the end of the last pass over the logs, by whichever process made it."""
    text = read_fact(connection, FACT)
    return [Trouble(**row) for row in json.loads(text)] if text else []


def keep_troubles(connection: Connection, troubles: list[Trouble]) -> None:
    """Replace them, so that the pages show them and are drawn anew."""
    set_fact(connection, FACT, json.dumps([asdict(trouble) for trouble in troubles]))
    raise_version(connection)


def merged(troubles: Iterable[Trouble]) -> list[Trouble]:
    """Each sentence once, in the order of logs and sentences."""
    return sorted(set(troubles), key=lambda trouble: (trouble.log, trouble.says))
