"""Logs of which no line is understood: with a dialect that is another host's, nothing else would tell. Seen by the live
watch only.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from server.alerts.incident import Incident, Open
from server.telling.evidence import none_understood

LINES_AT_LEAST = 50  # of a log, before it says anything that none of them is understood


@dataclass(frozen=True)
class LogCounts:
    """What became of the lines of a log, since it was first read."""

    name: str
    lines: int
    understood: int
    unread: int

    @property
    def is_not_understood(self) -> bool:
        """Whether not one line of it could be read."""
        return not self.understood and self.unread >= LINES_AT_LEAST and 2 * self.unread > self.lines


def watch_unread_logs(logs: Iterable[LogCounts], now: int, open_now: Open) -> list[Incident]:
    """One incident for each such log, raised when it is first seen. The caller clears what is not found any more."""
    found = []
    for log in logs:
        if log.is_not_understood:
            short = log.name.rsplit("/", 1)[-1]
            says = none_understood(short, log.unread)
            raised = open_now.get(("intake", f"log {short}"), now)
            found.append(Incident("intake", f"log {short}", raised, None, False, says))
    return found
