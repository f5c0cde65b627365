"""Availability of the links to other systems, from link-up and link-down events (docs/definitions.md, Links)."""

from collections.abc import Iterable
from dataclasses import dataclass

import sqlalchemy as sa

from server.store import schema
from shared import spans as sp

Heard = tuple[int, bool, str]  #: instant, whether the link came up, its name


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


def link_states(heard: Iterable[Heard], start: int, end: int, blind: sp.Spans, until: int) -> tuple[LinkState, ...]:
    """Each link in [start, end). `heard` is sorted by instant and holds at least the last event of each link before `start`; a link is known
    from its first event to `until` (the last line of any log), but for blind time."""
    changes: dict[str, list[tuple[int, bool]]] = {}
    for instant, up, name in heard:
        changes.setdefault(name, []).append((instant, up))
    known = sp.difference(sp.spans([start], [min(end, until)]), blind)
    found = []
    for name, mine in sorted(changes.items()):
        ends = [*(instant for instant, _ in mine[1:]), end]
        pieces = [(since, to, up) for (since, up), to in zip(mine, ends, strict=True)]
        parts = {
            state: sp.intersection(
                sp.union(sp.spans([a for a, _, up in pieces if up is state], [b for _, b, up in pieces if up is state])), known
            )
            for state in (True, False)
        }
        down = tuple((int(a), int(b)) for a, b in parts[False])
        if sp.length(parts[True]) or down:
            found.append(LinkState(name, sp.length(parts[True]), sp.length(parts[False]), down))
    return tuple(found)


def heard_of_links(connection: sa.Connection, start: int, end: int) -> list[Heard]:
    """The events of [start, end), and before them the last one of each link."""
    event = schema.event
    name = sa.func.coalesce(event.c.network, event.c.target, "").label("name")
    linked = event.c.event.in_(("link-up", "link-down"))
    latest = sa.func.row_number().over(partition_by=name, order_by=(event.c.t.desc(), event.c.id.desc())).label("latest")
    earlier = sa.select(event.c.t, event.c.id, event.c.event, name, latest).where(linked, event.c.t < start).subquery()
    before = connection.execute(
        sa.select(earlier.c.t, earlier.c.event, earlier.c.name).where(earlier.c.latest == 1).order_by(earlier.c.t, earlier.c.id)
    )
    within = connection.execute(
        sa.select(event.c.t, event.c.event, name).where(linked, event.c.t >= start, event.c.t < end).order_by(event.c.t, event.c.id)
    )
    return [(instant, word == "link-up", called) for rows in (before, within) for instant, word, called in rows]
