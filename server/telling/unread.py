"""What is said where no line of any log tells anything yet: none was read, or none of them was understood."""

from collections.abc import Iterable
from typing import Protocol

from server.telling.numbers import count, verb

NO_LINE, NONE_UNDERSTOOD = "no log line is in the store", "none of the lines that were read could be understood"
NOT_READ = f"Nothing has been read yet: {NO_LINE}."
MEND = (
    "Their dialect may be another host’s: `airtally dialect try` shows what it makes of a log, `airtally adopt` learns "
    "one, and `airtally ingest --again` reads the lines again."
)


class Counted(Protocol):
    """What became of the lines of one log."""

    @property
    def lines(self) -> int: ...
    @property
    def understood(self) -> int: ...


def not_understood(logs: Iterable[Counted]) -> int:
    """How many lines were read of logs of which none was understood; 0 where one was."""
    read = list(logs)
    return 0 if any(log.understood for log in read) else sum(log.lines for log in read)


def nothing_told(lines: int) -> str:
    """One sentence; `lines` were read."""
    if not lines:
        return NOT_READ
    return f"{count(lines, 'line')} {verb(lines, 'was', 'were')} read, and none of them could be understood."


def what_to_read(lines: int) -> str:
    """What to do next, on a page."""
    return (
        MEND
        if lines
        else "`airtally ingest` reads the logs that the station file names; `airtally serve` follows them."
    )


def nothing_read_yet(lines: int) -> str:
    """The same on a terminal, with what to do next."""
    return f"{nothing_told(lines)} {MEND}" if lines else "No log was read yet: `airtally ingest` reads them."
