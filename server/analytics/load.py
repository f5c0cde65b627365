"""From the store's rows to the columns that figures are computed from."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from server.analytics.activity import MARGIN, NO_PAGES, Activity, Overs, Pages, Refusals, Unfinished
from server.analytics.figure_types import LineCounts
from server.analytics.linking import Key
from server.analytics.seen import LINE_KINDS, unlogged_spans
from server.store import schema
from server.store.facts import read_longest
from shared.events import CAUSES, MODES, REASONS, SIDES
from shared.zones import HOUR, SECOND

NEVER = np.iinfo(np.int64).max


def load_activity(
    connection: sa.Connection,
    start: int,
    end: int,
    *,
    names_of_ids: dict[str, str] | None = None,
    quiet_log_s: float | None = None,
) -> Activity:
    """All that happened in [start, end) and MARGIN on both sides."""
    over, low, high = schema.over, start - MARGIN, end + MARGIN
    columns = ("start", "end", "until", "mode", "slot", "side", "station", "target", "cause", "doubtful")
    overs = _fetch(
        connection,
        sa.select(*(over.c[name] for name in columns))
        .where(over.c.start >= low - read_longest(connection), over.c.start < high)
        .order_by(over.c.start, over.c.id),
        columns,
    )
    opened = schema.open_over
    still_open = _fetch(
        connection,
        sa.select(opened.c.start, opened.c.until, opened.c.mode).where(opened.c.start >= low, opened.c.start < high),
        ("start", "until", "mode"),
    )
    event = schema.event
    words = ("t", "mode", "side", "station", "reason")
    refused = _fetch(
        connection,
        sa.select(*(event.c[name] for name in words))
        .where(event.c.event == "refused", event.c.t >= low, event.c.t < high)
        .order_by(event.c.t, event.c.id),
        words,
    )
    paged = _fetch(
        connection,
        sa.select(*(event.c[name] for name in ("t", "seconds", "mode", "slot")))
        .where(event.c.event == "page", event.c.t >= low - read_longest(connection), event.c.t < high)
        .order_by(event.c.t, event.c.id),
        ("t", "seconds", "mode", "slot"),
    )
    ids = names_of_ids or {}
    called, calling = _named(overs["station"], ids), _named(refused["station"], ids)
    stations = _words({*called, *calling})
    targets = _words(set(overs["target"]))
    began, ended, mode = _instants(overs["start"]), _instants(overs["end"]), _codes(overs["mode"], MODES)
    finished = (ended != NEVER) & (ended >= low)
    left_open = (ended == NEVER) & (began >= low)
    unfinished = Unfinished(
        start=np.concatenate([began[left_open], _instants(still_open["start"])]),
        until=np.concatenate([_instants(overs["until"])[left_open], _instants(still_open["until"])]),
        mode=np.concatenate([mode[left_open], _codes(still_open["mode"], MODES)]),
    )
    order = np.argsort(unfinished.start, kind="stable")
    return Activity(
        overs=Overs(
            start=began[finished],
            end=ended[finished],
            mode=mode[finished],
            slot=np.array([slot or 0 for slot in overs["slot"]], dtype=np.int64)[finished],
            side=_codes(overs["side"], SIDES)[finished],
            station=_codes(called, stations)[finished],
            target=_codes(overs["target"], targets)[finished],
            cause=_codes(overs["cause"], CAUSES)[finished],
            doubtful=np.array(overs["doubtful"], dtype=bool)[finished],
        ),
        unfinished=Unfinished(unfinished.start[order], unfinished.until[order], unfinished.mode[order]),
        refusals=Refusals(
            t=_instants(refused["t"]),
            mode=_codes(refused["mode"], MODES),
            side=_codes(refused["side"], SIDES),
            station=_codes(calling, stations),
            reason=_codes(refused["reason"], REASONS),
        ),
        unlogged=unlogged_spans(connection, low, high, quiet_log_s),
        stations=stations,
        targets=targets,
        pages=_pages(paged, low),
    )


def _pages(paged: dict[str, Sequence[Any]], low: int) -> Pages:
    """Those that begin after `low`, or reach beyond it."""
    start = _instants(paged["t"])
    length = np.array([np.nan if seconds is None else seconds for seconds in paged["seconds"]], dtype=np.float64)
    end = np.where(np.isnan(length), start - 1, start + np.round(np.nan_to_num(length) * SECOND).astype(np.int64))
    mode, slot = _codes(paged["mode"], MODES), np.array([number or 0 for number in paged["slot"]], dtype=np.int64)
    near = (start >= low) | (end >= low)
    return Pages(start[near], end[near], mode[near], slot[near]) if len(start) else NO_PAGES


def _fetch(
    connection: sa.Connection, query: sa.Select[*tuple[Any, ...]], names: Sequence[str]
) -> dict[str, Sequence[Any]]:
    """Columns straight from the driver: a Row object each would cost more than the query."""
    text = str(query.compile(connection, compile_kwargs={"literal_binds": True}))
    rows = connection.exec_driver_sql(text).cursor.fetchall()
    return dict(zip(names, zip(*rows, strict=True) if rows else [()] * len(names), strict=True))


def _named(column: Sequence[str | None], ids: dict[str, str]) -> Sequence[str | None]:
    return [ids.get(text, text) if text is not None else None for text in column] if ids else column


def _instants(column: Sequence[int | None]) -> npt.NDArray[np.int64]:
    """NEVER for none."""
    return np.array([NEVER if instant is None else instant for instant in column], dtype=np.int64)


def _words(found: set[str | None]) -> tuple[str, ...]:
    return tuple(sorted(word for word in found if word is not None))


def _codes(column: Sequence[str | None], words: Sequence[str]) -> npt.NDArray[np.int64]:
    """Index of each word; -1 for none."""
    code = {word: number for number, word in enumerate(words)}
    return np.array([code.get(word, -1) for word in column], dtype=np.int64)  # type: ignore[arg-type]


def line_stamps(
    connection: sa.Connection, low: int, high: int, kinds: tuple[str, ...] = LINE_KINDS, log_id: int | None = None
) -> npt.NDArray[np.int64]:
    """The instants in [low, high) at which lines were written, sorted; of one log or of all together."""
    table = schema.line_hour
    query = sa.select(table.c.hour, *(table.c[kind] for kind in kinds)).where(
        table.c.hour > low - HOUR, table.c.hour < high
    )
    rows = connection.execute(query if log_id is None else query.where(table.c.log_id == log_id))
    parts = [row[0] + np.frombuffer(blob, dtype="<u4").astype(np.int64) for row in rows for blob in row[1:] if blob]
    stamps = np.sort(np.concatenate(parts)) if parts else np.empty(0, dtype=np.int64)
    return stamps[np.searchsorted(stamps, low) : np.searchsorted(stamps, high)]


def intake_counts(connection: sa.Connection, start: int, end: int) -> LineCounts:
    """The `intake` figures of [start, end): lines by what became of them, orphans, doubtful overs. Exact to the
    microsecond.
    """
    table = schema.line_hour
    kinds = LINE_KINDS
    first_whole, after_whole = -(-start // HOUR) * HOUR, end // HOUR * HOUR
    size = sa.func.length if connection.dialect.name == "sqlite" else sa.func.octet_length
    counts = dict.fromkeys(kinds, 0)
    if first_whole < after_whole:
        row = connection.execute(
            sa.select(*(sa.func.coalesce(sa.func.sum(size(table.c[kind])), 0) for kind in kinds)).where(
                table.c.hour >= first_whole, table.c.hour < after_whole
            )
        ).one()
        counts = {kind: int(found) // 4 for kind, found in zip(kinds, row, strict=True)}
        edges = [(start, first_whole), (after_whole, end)]
    else:
        edges = [(start, end)]
    for low, high in edges:
        if low < high:
            for kind in kinds:
                counts[kind] += len(line_stamps(connection, low, high, (kind,)))
    event, over = schema.event, schema.over
    orphans = sa.select(sa.func.count()).where(event.c.event == "orphan", event.c.t >= start, event.c.t < end)
    doubtful = sa.select(sa.func.count()).where(over.c.start >= start, over.c.start < end, over.c.doubtful)
    return LineCounts(
        lines=sum(counts.values()),
        **counts,
        orphans=connection.execute(orphans).scalar_one(),
        doubtful=connection.execute(doubtful).scalar_one(),
    )


def link_events(connection: sa.Connection, since: int | None, end: int) -> list[tuple[int, bool, Key]]:
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
