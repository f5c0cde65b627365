"""Availability of the links to other systems, from link-up and link-down events (docs/definitions.md, Links)."""

from collections.abc import Iterable
from dataclasses import dataclass

from server.analytics.linking import changes_by_link
from server.analytics.links import spent
from server.store.engine import Connection
from server.store.events import link_events
from server.telling.links import link_name
from shared import spans as sp

History = tuple[int, bool, str]  #: instant, whether the link came up, its name


@dataclass(frozen=True)
class LinkState:
    """One link over a window; microseconds. What was up, what was down; the rest of the window is not known."""

    name: str
    up: int
    down: int
    outages: tuple[tuple[int, int], ...]  #: clipped to the window, blind time taken out

    @property
    def availability(self) -> float | None:
        """Up time over known time; None where nothing is known."""
        return self.up / (self.up + self.down) if self.up + self.down else None


def link_states(heard: Iterable[History], start: int, end: int, blind: sp.Spans, until: int) -> tuple[LinkState, ...]:
    """Each link in [start, end). `heard` is sorted by instant and holds at least the last event of each link before
    `start`; a link is known from its first event to `until` (the last line of any log), but for blind time.
    """
    changes: dict[str, list[tuple[int, bool]]] = {}
    for instant, up, name in heard:
        changes.setdefault(name, []).append((instant, up))
    known = sp.difference(sp.spans([start], [min(end, until)]), blind)
    found = []
    for name, mine in sorted(changes.items()):
        parts = {state: spent(mine, end, known, up=state) for state in (True, False)}
        down = tuple((int(a), int(b)) for a, b in parts[False])
        if sp.length(parts[True]) or down:
            found.append(LinkState(name, sp.length(parts[True]), sp.length(parts[False]), down))
    return tuple(found)


def heard_of_links(connection: Connection, start: int, end: int) -> list[History]:
    """The events of [start, end), and before them the last one of each link, in order of time."""
    changes = {link_name(*key): mine for key, mine in changes_by_link(link_events(connection, None, end)).items()}
    found = []
    for name, mine in changes.items():
        within = [(instant, up, name) for instant, up in mine if instant >= start]
        before = [(instant, up, name) for instant, up in mine if instant < start]
        found += before[-1:] + within
    return sorted(found)
