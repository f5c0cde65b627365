"""What one pass over the logs is, and what the readings of files and journals share."""

from collections.abc import Callable
from dataclasses import dataclass, field

from server.config import Station
from server.intake.claims import Claims
from server.intake.discovery import LogFile, discover
from server.intake.readers import Readers
from server.intake.troubles import Retries, Trouble
from server.store.engine import Store
from shared.zones import SECOND

FAR = 1 << 61  #: beyond any instant that a clock shows

Progress = Callable[[int, str], None]  #: bytes just read, of which file


@dataclass
class PassResult:
    """What one pass over the logs brought."""

    files: int = 0
    lines: int = 0
    understood: int = 0
    ignored: int = 0
    unread: int = 0
    overs: int = 0
    hindrances: list[Trouble] = field(default_factory=list)  #: what stands in the way now
    notes: list[str] = field(default_factory=list)  #: what is no trouble, said once: files that wait, logs that moved
    more: bool = False  #: a packed file is half read: the next pass goes on with it

    @property
    def troubles(self) -> list[str]:
        """What stands in the way now, a sentence each."""
        return [trouble.says for trouble in self.hindrances]


class FilesMoved(Exception):
    """Files were renamed, created or removed between two looks; the log that was looked at."""


class PassStopped(Exception):
    """The pass is to end here."""


@dataclass
class Pass:
    """One pass over the logs: what bounds it, and how far it has come."""

    progress: Progress | None = None
    stopping: Callable[[], bool] = lambda: False
    step_s: float | None = None  #: how long an ended file may hold up the others
    result: PassResult = field(default_factory=PassResult)
    version: int = 0  #: of the store, when it was looked into or written last
    files: list[LogFile] = field(default_factory=list)  #: that were there at the last look
    claims: Claims = field(default_factory=lambda: Claims([], []))
    unlooked: list[Trouble] = field(default_factory=list)  #: what could not be looked at

    def tell_progress(self, count: int, name: str) -> None:
        if self.progress:
            self.progress(count, name)


@dataclass
class Context:
    """The station whose logs are read, by what clocks, and the pass that is under way."""

    engine: Store
    station: Station
    readers: Readers
    block_bytes: int
    steady: Callable[[], float]  #: seconds of a clock that nobody sets
    now_us: Callable[[], int]
    retries: Retries
    now: Pass = field(default_factory=Pass)

    @property
    def quiet_us(self) -> int:
        return round((self.station.timers.quiet_log_s or 0) * SECOND)

    def discover(self) -> tuple[list[LogFile], list[Trouble]]:
        return discover([log.path for log in self.station.log], self.station.folder)
