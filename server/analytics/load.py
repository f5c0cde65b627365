"""From the store's rows to the columns that figures are computed from."""

import datetime as dt
from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.activity import MARGIN, NO_PAGES, Activity, Overs, Pages, Refusals, Unfinished
from server.analytics.figure_types import LineCounts
from server.analytics.link_overs import LinkOvers
from server.analytics.paging import estimated_us
from server.analytics.polish import Heard
from server.analytics.reception import WEEKS_13
from server.analytics.seen import unlogged_spans
from server.analytics.segments import REACH
from server.store.engine import Connection
from server.store.events import count_orphans, pages_reaching_into, refusals
from server.store.lines import LINE_KINDS, line_stamps, lines_of_hours
from server.store.overs import (
    count_doubtful,
    levels_of_overs,
    link_overs_reaching_into,
    open_overs,
    overs_reaching_into,
)
from shared.events import CAUSES, MODES, REASONS, SIDES
from shared.zones import HOUR, SECOND, from_us, midnight

NEVER = np.iinfo(np.int64).max


def load_activity(
    connection: Connection,
    start: int,
    end: int,
    *,
    names_of_ids: dict[str, str] | None = None,
    quiet_log_s: float | None = None,
) -> Activity:
    """All that happened in [start, end) and MARGIN on both sides."""
    low, high = start - MARGIN, end + MARGIN
    overs, still_open = overs_reaching_into(connection, low, high), open_overs(connection, low, high)
    refused, paged = refusals(connection, low, high), pages_reaching_into(connection, low, high)
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


def load_heard(connection: Connection, low: int, high: int, names_of_ids: dict[str, str]) -> Heard:
    """The overs received by radio that begin in [low, high), with their levels."""
    told = levels_of_overs(connection, low, high)
    named = [names_of_ids.get(text, text) for text in told["station"]]
    return Heard(
        start=np.array(told["start"], dtype=np.int64),
        mode=np.array([MODES.index(mode) for mode in told["mode"]], dtype=np.int64),
        station=np.unique(np.array(named, dtype=np.str_), return_inverse=True)[1].astype(np.int64),
        rssi_dbm=np.array(told["rssi_dbm"], dtype=np.float64),
        ber_pct=np.array(told["ber_pct"], dtype=np.float64),
    )


def days_looked_at(start: int, end: int, zone: ZoneInfo) -> tuple[list[dt.date], npt.NDArray[np.int64]]:
    """The local days by which reception is looked at for a window, and their edges (one more than days): the 13 weeks
    up to its end, or all of it where that is longer, and what of a change is seen after it.
    """
    last = from_us(end - 1, zone).date()
    first = min(from_us(start, zone).date(), last - dt.timedelta(days=WEEKS_13 - 1))
    days = [first + dt.timedelta(days=n) for n in range((last - first).days + 1 + REACH)]
    edges = [midnight(day, zone) for day in [*days, days[-1] + dt.timedelta(days=1)]]
    return days, np.array(edges, dtype=np.int64)


def load_link_overs(connection: Connection, start: int, end: int) -> LinkOvers:
    """What came over links in a window."""
    columns = link_overs_reaching_into(connection, start, end)
    return LinkOvers(
        start=np.array(columns["start"], dtype=np.int64),
        end=np.array(columns["end"], dtype=np.int64),
        mode=columns["mode"],
        target=columns["target"],
        loss_pct=np.array(columns["loss_pct"], dtype=np.float64),
    )


def _pages(paged: dict[str, Sequence[Any]], low: int) -> Pages:
    """Those that begin after `low`, or reach beyond it."""
    start = _instants(paged["t"])
    length = _numbers(paged["seconds"])
    end = np.where(np.isnan(length), start - 1, start + np.round(np.nan_to_num(length) * SECOND).astype(np.int64))
    mode, slot = _codes(paged["mode"], MODES), np.array([number or 0 for number in paged["slot"]], dtype=np.int64)
    near = (start >= low) | (end >= low)
    estimated = estimated_us(*(_numbers(paged[name]) for name in ("bit_rate", "code_words", "characters")))
    return Pages(start[near], end[near], mode[near], slot[near], estimated[near]) if len(start) else NO_PAGES


def _numbers(column: Sequence[float | None]) -> npt.NDArray[np.float64]:
    """nan for none."""
    return np.array([np.nan if value is None else value for value in column], dtype=np.float64)


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


def intake_counts(connection: Connection, start: int, end: int) -> LineCounts:
    """The `intake` figures of [start, end): lines by what became of them, orphans, doubtful overs. Exact to the
    microsecond.
    """
    first_whole, after_whole = -(-start // HOUR) * HOUR, end // HOUR * HOUR
    if first_whole < after_whole:
        counts = lines_of_hours(connection, first_whole, after_whole)
        edges = [(start, first_whole), (after_whole, end)]
    else:
        counts = dict.fromkeys(LINE_KINDS, 0)
        edges = [(start, end)]
    for low, high in edges:
        if low < high:
            for kind in LINE_KINDS:
                counts[kind] += len(line_stamps(connection, low, high, (kind,)))
    return LineCounts(
        lines=sum(counts.values()),
        **counts,
        orphans=count_orphans(connection, start, end),
        doubtful=count_doubtful(connection, start, end),
    )
