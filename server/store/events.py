"""What happened besides overs: refusals, pages, carriers, links, hosts, orphans."""

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa

from server.store import schema
from server.store.facts import read_longest
from server.store.rows import columns_of

REFUSALS = ("t", "mode", "side", "station", "reason")
PAGES = ("t", "seconds", "mode", "slot", "bit_rate", "code_words", "characters")

LinkNames = tuple[str | None, str | None, str | None]  #: network, mode and target, as far as a line gives them


def refusals(connection: sa.Connection, low: int, high: int) -> dict[str, Sequence[Any]]:
    """The columns REFUSALS of [low, high), in order of time."""
    event = schema.event
    wanted = sa.select(*(event.c[name] for name in REFUSALS)).where(
        event.c.event == "refused", event.c.t >= low, event.c.t < high
    )
    return columns_of(connection, wanted.order_by(event.c.t, event.c.id), REFUSALS)


def pages_reaching_into(connection: sa.Connection, low: int, high: int) -> dict[str, Sequence[Any]]:
    """The columns PAGES of what began before `high` and may reach beyond `low`, in order of time."""
    event = schema.event
    wanted = sa.select(*(event.c[name] for name in PAGES)).where(
        event.c.event == "page", event.c.t >= low - read_longest(connection), event.c.t < high
    )
    return columns_of(connection, wanted.order_by(event.c.t, event.c.id), PAGES)


def lengthless(connection: sa.Connection, start: int, end: int) -> list[tuple[int, str, str | None]]:
    """Instant, event and mode of the ends without a start (`orphan`) and the pages without a length of [start, end)."""
    event = schema.event
    query = sa.select(event.c.t, event.c.event, event.c.mode).where(
        event.c.event.in_(("orphan", "page")), event.c.seconds.is_(None), event.c.t >= start, event.c.t < end
    )
    return [tuple(row) for row in connection.execute(query.order_by(event.c.t, event.c.id))]


def link_events(connection: sa.Connection, since: int | None, end: int) -> list[tuple[int, bool, LinkNames]]:
    """Links that came up or went down before `end` (and from `since` on): instant, whether it came up, and what the
    line names; in order.
    """
    event = schema.event
    query = sa.select(event.c.t, event.c.event, event.c.network, event.c.mode, event.c.target)
    query = query.where(event.c.event.in_(("link-up", "link-down")), event.c.t < end)
    if since is not None:
        query = query.where(event.c.t >= since)
    rows = connection.execute(query.order_by(event.c.t, event.c.id))
    return [(instant, word == "link-up", (network, mode, target)) for instant, word, network, mode, target in rows]


def known_pages(connection: sa.Connection, low: int, high: int) -> list[tuple[int, float, str | None, int | None]]:
    """Instant, seconds, mode and slot of pages of known length that began before `high` and may reach beyond `low`."""
    event = schema.event
    query = sa.select(event.c.t, event.c.seconds, event.c.mode, event.c.slot).where(
        event.c.event == "page",
        event.c.seconds.is_not(None),
        event.c.t >= low - read_longest(connection),
        event.c.t < high,
    )
    rows = connection.execute(query.order_by(event.c.t, event.c.id))
    return [(instant, seconds, mode, slot) for instant, seconds, mode, slot in rows]


def events_of(connection: sa.Connection, words: Sequence[str], low: int, high: int) -> list[tuple[int, str, int]]:
    """Instant, word and log of the events of these words in [low, high), in order of time."""
    event = schema.event
    query = sa.select(event.c.t, event.c.event, event.c.log_id)
    rows = connection.execute(
        query.where(event.c.event.in_(words), event.c.t >= low, event.c.t < high).order_by(event.c.t, event.c.id)
    )
    return [(instant, word, log_id) for instant, word, log_id in rows]


def host_events(connection: sa.Connection) -> list[tuple[int, int, bool]]:
    """All starts and stops of hosts, log by log in order of time: log, instant, whether it stopped. A few a month."""
    event = schema.event
    query = sa.select(event.c.log_id, event.c.t, event.c.event).where(event.c.event.in_(("host-stop", "host-start")))
    rows = connection.execute(query.order_by(event.c.log_id, event.c.t, event.c.id))
    return [(log_id, instant, word == "host-stop") for log_id, instant, word in rows]


def count_orphans(connection: sa.Connection, start: int, end: int) -> int:
    """Ends in [start, end) that belong to no over."""
    event = schema.event
    counted = sa.select(sa.func.count()).where(event.c.event == "orphan", event.c.t >= start, event.c.t < end)
    return connection.execute(counted).scalar_one()
