"""The columns that a batch of events travels in. Apart from the words, so that what only reads the store needs no
frames.
"""

import polars as pl

from shared.events import CAUSES, EVENTS, MODES, REASONS, SIDES

#: One row an event. `line` is the row's line number within the batch, `t` the instant in microseconds UTC
#: (of an over: its start), `seconds` the duration as the host measured it.
EVENT_SCHEMA: dict[str, pl.DataType] = {
    "line": pl.UInt32(),
    "t": pl.Int64(),
    "event": pl.Enum(EVENTS),
    "mode": pl.Enum(MODES),
    "side": pl.Enum(SIDES),
    "slot": pl.Int8(),
    "station": pl.String(),
    "target": pl.String(),
    "seconds": pl.Float64(),
    "cause": pl.Enum(CAUSES),
    "reason": pl.Enum(REASONS),
    "ber_pct": pl.Float64(),
    "loss_pct": pl.Float64(),
    "rssi_dbm": pl.Float64(),
    "network": pl.String(),
    "session": pl.String(),
    "bit_rate": pl.Int64(),
    "code_words": pl.Int64(),
    "characters": pl.Int64(),
}


def identity_column(column: pl.Expr) -> pl.Expr:
    """shared.identity.identity for a column of texts."""
    return column.str.strip_chars().str.extract(r"^([^ /\-]+)", 1).str.to_uppercase()


def rows_where(frame: pl.DataFrame, rows: pl.Series) -> pl.DataFrame:
    """The rows (Boolean, without nulls) of a frame; the frame itself where that is all of them. Works in the calling
    thread, where DataFrame.filter waits for another.
    """
    count = rows.sum()
    if count == len(frame):
        return frame
    return pl.DataFrame([column.filter(rows) for column in frame.get_columns()]) if count else frame.clear()
