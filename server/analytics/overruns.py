"""Overs that ran on beyond the time-out and its grace."""

from dataclasses import dataclass

import numpy as np

from server.analytics.activity import Activity, Window, in_window
from shared.events import MODES
from shared.zones import SECOND


@dataclass(frozen=True)
class Overrun:
    """An over that ran on; of a week, its longest over, however long it was."""

    mode: str | None
    start_us: int
    seconds: float | None  #: None: its end is not in the log


def finished_overruns(activity: Activity, window: Window, limit: int) -> tuple[Overrun, ...]:
    """Overs that start in the window and lasted longer than `limit` microseconds, the longest first."""
    overs = activity.overs
    length = overs.end - overs.start
    places = np.flatnonzero(in_window(overs.start, window) & (length > limit))
    return tuple(
        Overrun(
            MODES[overs.mode[place]] if overs.mode[place] >= 0 else None,
            int(overs.start[place]),
            float(length[place] / SECOND),
        )
        for place in places[np.argsort(-length[places], kind="stable")].tolist()
    )
