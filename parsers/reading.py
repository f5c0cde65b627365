"""What a reader of lines gives back, whatever the dialect."""

from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
import polars as pl


@dataclass(frozen=True)
class Carry:
    """What one batch of a log hands to the next one of the same log."""

    last_us: int | None = None  #: instant at which the last stamped line was written, microseconds UTC
    header: tuple[str, ...] | None = None  #: column names, where the envelope is csv
    last_wall: int | None = None  #: wall clock of the last stamp, where stamps have no date
    #: (n,) of lines that did not follow one another: what stamp stood before each
    near_us: npt.NDArray[np.int64] | None = field(default=None, compare=False)
    #: days since 1970 of the first stamp to come, where stamps have no date; before `last_wall`
    first_day: int | None = None


@dataclass(frozen=True)
class Reading:
    """A batch of n lines, read."""

    events: pl.DataFrame  #: columns of shared.events.EVENT_SCHEMA, in the order of the lines
    #: (n,) the instant each line was written; an unstamped line has that of the line before
    stamps: npt.NDArray[np.int64]
    stamped: npt.NDArray[np.bool_]  #: (n,) False where no instant is known: no line so far had a stamp
    verdicts: npt.NDArray[np.uint8]  #: (n,) UNDERSTOOD, IGNORED or UNREAD of shared.events
    carry: Carry = field(default_factory=Carry)
    bare: int = 0  #: how many of the last lines have no stamp of their own
    #: what should be known about lines that could not be read, a sentence each without its full stop
    remarks: tuple[str, ...] = ()


class Reader(Protocol):
    """Reads the lines of one kind of log, in two steps: what lines say by themselves, which takes the time and needs no
    other batch, and what that means after what came before. Neither raises for what a line holds.
    """

    @property
    def name(self) -> str: ...

    @property
    def meaning(self) -> str:
        """Name, zone, and a digest of all else that decides what a line says, with blanks between: lines read with
        another one may say something else now.
        """
        ...

    @property
    def dayless(self) -> bool:
        """Whether the stamps have no date, so that a file's days are counted back from its end."""
        ...

    def match(self, lines: pl.Series) -> Any:
        """What lines (String, no line ends) say, for `resolve`; several batches may be matched at the same time."""
        ...

    def resolve(self, matched: Any, carry: Carry, around_us: int) -> Reading:
        """The reading of what was matched. `around_us`, an instant near the last line (its file's time of change),
        settles the year of stamps without one when `carry` holds no instant yet.
        """
        ...

    def read(self, lines: pl.Series, carry: Carry, around_us: int) -> Reading:
        """Both steps."""
        ...
