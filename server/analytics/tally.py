"""Additive figures by UTC hour and mode: the rows of the store's `tally` table, made by the same functions as the
figures.
"""

import numpy as np
import polars as pl

from server.analytics import airtime, sharing, timeouts
from server.analytics.activity import Activity, Ints, in_window
from shared import spans as sp
from shared.events import MODES
from shared.timers import Timers
from shared.zones import HOUR

TALLY_SCHEMA: dict[str, pl.DataType] = {
    "hour": pl.Int64(),
    "mode": pl.String(),
    "airtime_us": pl.Int64(),
    "keyed_us": pl.Int64(),
    "idle_hold_us": pl.Int64(),
    "held_us": pl.Int64(),
    "overs": pl.Int64(),
    "timeouts": pl.Int64(),
    "timeouts_estimated": pl.Int64(),
    "near_timeouts": pl.Int64(),
    "shut_outs": pl.Int64(),
    "unfinished": pl.Int64(),
    "seen_us": pl.Int64(),
    "duty_6_us": pl.Int64(),
    "duty_30_us": pl.Int64(),
    "duty_60_us": pl.Int64(),
}
DUTIES = ("duty_6_us", "duty_30_us", "duty_60_us")  #: as airtime.DUTY_SPANS
OF_THE_CHANNEL = ("keyed_us", "seen_us", *DUTIES)


def hour_tallies(
    activity: Activity, start_hour_us: int, end_hour_us: int, timers: Timers, step: int = HOUR
) -> pl.DataFrame:
    """One row an hour (or other `step`) of [start, end) for the channel (mode ''), and one for each mode that has
    anything in that hour.

    Both ends are whole UTC hours (steps), and the activity reaches MARGIN beyond them; so the sum over the hours of a
    window is just what `figures` gives for it. Counts belong to the hour of the start instant; The greatest of
    `duty_6_us` and its likes (what is keyed of the fullest 6 minutes that end in the hour) is that of a window. What is
    of the transmitter or the logs (OF_THE_CHANNEL) is null for modes. The channel is held while any mode holds it."""
    edges = np.arange(start_hour_us, end_hour_us + 1, step, dtype=np.int64)
    overs, sent = activity.overs, activity.sent
    streams = airtime.stream_airtime(sent)
    channel = activity.on_air
    holds = sharing.hold_spans(sent, timers)
    held_by = sharing.held(sent, holds)
    idle = sharing.idle_holds(sent, holds)
    blind = activity.blind
    seen = np.diff(edges) - sp.binned(blind, edges)
    shut = sharing.shut_outs(sharing.attempts(activity.refusals), held_by)
    keyed = sp.difference(airtime.keyed(sent, timers), blind)
    own = {"keyed_us": sp.binned(keyed, edges), "seen_us": seen}
    for name, width in zip(DUTIES, airtime.DUTY_SPANS, strict=True):
        own[name] = sp.fullest_by_bin(keyed, width, edges)
    masks = {
        "overs": np.ones(len(overs), dtype=bool),
        "timeouts": timeouts.counted(overs),
        "timeouts_estimated": timeouts.inferred(overs, timers),
        "near_timeouts": timeouts.near(overs, timers),
    }

    def rows(mode: int | None) -> pl.DataFrame:
        """The tallies of one mode code, or of the channel."""

        def mine(modes: Ints) -> np.ndarray:
            return np.ones(len(modes), dtype=bool) if mode is None else modes == mode

        covered = channel if mode is None else airtime.mode_airtime(streams, mode)
        holding = sp.union(*held_by.values()) if mode is None else held_by.get(mode, sp.NONE)
        columns = {
            "hour": edges[:-1],
            "airtime_us": sp.binned(covered, edges),
            "idle_hold_us": sp.binned(sp.difference(sp.union(idle[mine(sent.mode)]), blind), edges),
            "held_us": sp.binned(sp.difference(holding, blind), edges),
            **{name: _by_hour(overs.start[mask & mine(overs.mode)], edges) for name, mask in masks.items()},
            "shut_outs": _by_hour(shut.t[mine(shut.wanted)], edges),
            "unfinished": _by_hour(activity.unfinished.start[mine(activity.unfinished.mode)], edges),
        }
        frame = pl.DataFrame(columns).with_columns(
            mode=pl.lit("" if mode is None else MODES[mode]),
            **{name: pl.Series(its) if mode is None else pl.lit(None, pl.Int64()) for name, its in own.items()},
        )
        anything = pl.any_horizontal(pl.exclude("hour", "mode", *OF_THE_CHANNEL) > 0)
        return (frame if mode is None else frame.filter(anything)).select(
            pl.col(name).cast(kind) for name, kind in TALLY_SCHEMA.items()
        )

    return pl.concat([rows(None), *(rows(mode) for mode in range(len(MODES)))]).sort("hour", "mode")


def _by_hour(instants: Ints, edges: Ints) -> Ints:
    """How many instants each hour holds."""
    inside = instants[in_window(instants, (int(edges[0]), int(edges[-1])))]
    return np.bincount((inside - edges[0]) // (edges[1] - edges[0]), minlength=len(edges) - 1)
