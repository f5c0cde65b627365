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
    "overs": pl.Int64(),
    "timeouts": pl.Int64(),
    "timeouts_estimated": pl.Int64(),
    "near_timeouts": pl.Int64(),
    "shut_outs": pl.Int64(),
    "unfinished": pl.Int64(),
    "seen_us": pl.Int64(),
}


def hour_tallies(
    activity: Activity, start_hour_us: int, end_hour_us: int, timers: Timers, step: int = HOUR
) -> pl.DataFrame:
    """One row an hour (or other `step`) of [start, end) for the channel (mode ''), and one for each mode that has
    anything in that hour.

    Both ends are whole UTC hours (steps), and the activity reaches MARGIN beyond them; so the sum over the hours of a
    window is just what `figures` gives for it. Counts belong to the hour of the start instant; `keyed_us` and `seen_us`
    are null for modes."""
    edges = np.arange(start_hour_us, end_hour_us + 1, step, dtype=np.int64)
    overs, sent = activity.overs, activity.sent
    streams = airtime.stream_airtime(sent)
    channel = activity.on_air
    holds = sharing.hold_spans(sent, timers)
    idle = sharing.idle_holds(sent, holds)
    blind = activity.blind
    seen = np.diff(edges) - sp.binned(blind, edges)
    shut = sharing.shut_outs(sharing.attempts(activity.refusals), sharing.held(sent, holds))
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
        keyed = sp.binned(sp.difference(airtime.keyed(sent, timers), blind), edges) if mode is None else None
        columns = {
            "hour": edges[:-1],
            "airtime_us": sp.binned(covered, edges),
            "idle_hold_us": sp.binned(sp.difference(sp.union(idle[mine(sent.mode)]), blind), edges),
            **{name: _by_hour(overs.start[mask & mine(overs.mode)], edges) for name, mask in masks.items()},
            "shut_outs": _by_hour(shut.t[mine(shut.wanted)], edges),
            "unfinished": _by_hour(activity.unfinished.start[mine(activity.unfinished.mode)], edges),
        }
        frame = pl.DataFrame(columns).with_columns(
            mode=pl.lit("" if mode is None else MODES[mode]),
            keyed_us=pl.lit(None, pl.Int64()) if keyed is None else pl.Series(keyed),
            seen_us=pl.lit(None, pl.Int64()) if mode is not None else pl.Series(seen),
        )
        anything = pl.any_horizontal(pl.exclude("hour", "mode", "keyed_us", "seen_us") > 0)
        return (frame if mode is None else frame.filter(anything)).select(
            pl.col(name).cast(kind) for name, kind in TALLY_SCHEMA.items()
        )

    return pl.concat([rows(None), *(rows(mode) for mode in range(len(MODES)))]).sort("hour", "mode")


def _by_hour(instants: Ints, edges: Ints) -> Ints:
    """How many instants each hour holds."""
    inside = instants[in_window(instants, (int(edges[0]), int(edges[-1])))]
    return np.bincount((inside - edges[0]) // (edges[1] - edges[0]), minlength=len(edges) - 1)
