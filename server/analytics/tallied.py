"""From the store's tallies to what Explore looks at."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Window
from server.analytics.explored import Explored, Loose, explored, hour_of_week
from server.analytics.hour_tallies import Reckoning, make_missing
from server.store.engine import Store, reading
from server.store.events import lengthless
from server.store.lines import first_and_last_line
from server.store.tallies import GREATEST, SUMS, channel_by_hour, tallied_spans
from shared.zones import DAY


def explored_spans(engine: Store, reckoning: Reckoning, spans: Sequence[Window], until: int) -> Explored:
    """What adds up in consecutive spans that begin and end with local hours. Makes the tallies that are missing; lines
    stamped after `until` don't count for that. Raises StoreError.
    """
    start, end = spans[0][0], spans[-1][1]
    _tally(engine, reckoning, start, end, until)
    with reading(engine) as connection:
        rows, told = tallied_spans(connection, spans), lengthless(connection, start, end)
    orphans = [at for at, event, _ in told if event == "orphan"]
    pages = [(at, mode) for at, event, mode in told if event == "page"]
    instants = np.array(orphans, dtype=np.int64), np.array([at for at, _ in pages], dtype=np.int64)
    return explored(spans, rows, (*SUMS, *GREATEST), Loose(*instants, tuple(mode for _, mode in pages)))


def means_by_hour_of_week(
    engine: Store, reckoning: Reckoning, window: Window, column: str, zone: ZoneInfo, until: int
) -> npt.NDArray[np.float64]:
    """Means (7, 24) of a column of the channel's tallies, per hour that was seen; of GREATEST the greatest.
    Raises StoreError.
    """
    _tally(engine, reckoning, *window, until)
    with reading(engine) as connection:
        rows = channel_by_hour(connection, *window, column)
    hours, values, seen = np.array(rows, dtype=np.int64).reshape(-1, 3).T
    return hour_of_week(hours, values.astype(np.float64), seen.astype(np.float64), zone, column in GREATEST)


def _tally(engine: Store, reckoning: Reckoning, start: int, end: int, until: int) -> None:
    """Makes the tallies of a stretch as far as anything can be known of it: hours that no log reaches have none."""
    with reading(engine) as connection:
        known = first_and_last_line(connection, until)
    if known is not None and max(start, known[0] - DAY) < min(end, known[1] + DAY):
        make_missing(engine, reckoning, max(start, known[0] - DAY), min(end, known[1] + DAY))
