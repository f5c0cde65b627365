"""Overs that name nobody, for files that are handed on."""

from functools import partial
from zoneinfo import ZoneInfo

import polars as pl

from server.analytics.activity import Window
from server.analytics.over_rows import over_frame, over_rows, without_names
from server.report.privacy import may_be_somebody
from server.store.engine import Store, reading


def nameless_overs(engine: Store, window: Window, ids: dict[str, str], zone: ZoneInfo, own: str) -> pl.DataFrame:
    """The finished overs that begin in a window, without what names people. Raises StoreError."""
    with reading(engine) as connection:
        rows = list(over_rows(connection, *window, ids))
    return nameless(over_frame(rows, zone), own)


def nameless(frame: pl.DataFrame, own: str) -> pl.DataFrame:
    """The same overs without stations, and without targets that may be somebody's; `own` is the repeater's call sign,
    which is nobody's.
    """
    heard = set(frame["station"].drop_nulls())
    return without_names(frame, partial(may_be_somebody, stations=heard, own=own))
