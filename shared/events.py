"""The words of an activity line and the columns that a batch of events travels in."""

import polars as pl

MODES = ("dstar", "dmr", "c4fm", "p25", "nxdn", "m17", "fm", "pocsag")
MODE_LABELS = {
    "dstar": "D-STAR", "dmr": "DMR", "c4fm": "C4FM", "p25": "P25",
    "nxdn": "NXDN", "m17": "M17", "fm": "FM", "pocsag": "POCSAG",
}  # fmt: skip
EVENTS = (
    "over-start", "over-end", "over", "refused", "carrier-up", "carrier-down",
    "link-up", "link-down", "page", "host-start", "host-stop", "alive",
)  # fmt: skip
SIDES = ("air", "link")
CAUSES = ("released", "timeout", "lost")
REASONS = ("other-mode", "busy", "lockout")
TEXT_KEYS = ("station", "target", "network")
TEXT_LIMIT = 64  # characters in station, target and network

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
}

UNDERSTOOD, IGNORED, UNREAD = 0, 1, 2  # what became of a line
