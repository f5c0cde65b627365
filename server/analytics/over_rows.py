"""Finished overs as a table for the keeper's own analysis."""

from collections.abc import Callable, Iterator
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

from server.store.engine import Connection
from server.store.overs import finished_overs
from shared.zones import SECOND

OVER_FIELDS = (
    "start", "end", "seconds", "mode", "slot", "side", "station", "target", "cause", "ber_pct", "loss_pct", "rssi_dbm",
    "doubtful",
)  # fmt: skip
WITHHELD = "withheld"  #: stands for a target that may be somebody's own number
_KINDS: dict[str, pl.DataType] = {
    "start": pl.Int64(), "end": pl.Int64(), "seconds": pl.Float64(), "slot": pl.Int8(), "ber_pct": pl.Float64(),
    "loss_pct": pl.Float64(), "rssi_dbm": pl.Float64(), "doubtful": pl.Boolean(),
}  # fmt: skip


def over_rows(connection: Connection, start: int, end: int, names_of_ids: dict[str, str]) -> Iterator[dict[str, Any]]:
    """OVER_FIELDS of the overs that begin in [start, end) and have ended, in order; instants in microseconds."""
    for row in finished_overs(connection, start, end):
        values = row | {
            "seconds": (row["end"] - row["start"]) / SECOND,
            "station": names_of_ids.get(row["station"], row["station"]),
        }
        yield {name: values[name] for name in OVER_FIELDS}


def over_frame(rows: list[dict[str, Any]], zone: ZoneInfo) -> pl.DataFrame:
    """The same as columns with types; instants in the repeater's zone."""
    schema = {name: _KINDS.get(name, pl.String()) for name in OVER_FIELDS}
    frame = pl.DataFrame({name: pl.Series([row[name] for row in rows], dtype=schema[name]) for name in OVER_FIELDS})
    instants = [
        pl.from_epoch(name, time_unit="us").dt.replace_time_zone("UTC").dt.convert_time_zone(zone.key)
        for name in ("start", "end")
    ]
    return frame.with_columns(instants)


def without_names(frame: pl.DataFrame, somebody: Callable[[str], bool]) -> pl.DataFrame:
    """No station, and no target that may be somebody's own number."""
    hidden = [name for name in frame["target"].unique().drop_nulls() if somebody(name)]
    target = pl.when(pl.col("target").is_in(hidden)).then(pl.lit(WITHHELD)).otherwise(pl.col("target"))
    return frame.drop("station").with_columns(target=target)
