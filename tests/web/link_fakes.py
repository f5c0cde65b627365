"""Links at Brackenfell for a fake source: one that was down for a night and flapped, one that brought nothing, one that
was never seen up.
"""

from zoneinfo import ZoneInfo

import numpy as np

from server.analytics.figure_types import Stretch
from server.analytics.link_overs import LinkOvers
from server.analytics.linking import Change, Key
from server.analytics.links import Heard, Links, links
from shared import spans as sp
from shared.zones import DAY, HOUR, SECOND

FELL: Key = ("fellnet", "dmr", None)
QUIET: Key = ("mootnet", "c4fm", "GreatMoot")
LOST: Key = ("ghyllnet", None, None)
MINUTE = 60 * SECOND


def changes_of(first: int, night: int) -> dict[Key, list[Change]]:
    """Down for a night of seven hours; eight flaps a day later."""
    flaps = [
        change
        for turn in range(8)
        for change in (
            (night + DAY + turn * 10 * MINUTE, False),
            (night + DAY + turn * 10 * MINUTE + 30 * SECOND, True),
        )
    ]
    return {
        FELL: [(first, True), (night, False), (night + 7 * HOUR, True), *flaps],
        QUIET: [(first, True)],
        LOST: [(night, False)],
    }


def links_like(
    span: tuple[int, int] | None,
    start: int,
    end: int,
    zone: ZoneInfo,
    changes: dict[Key, list[Change]] | None = None,
    upto: int | None = None,
) -> Links:
    """The links of a window: over `span` an over of a minute each hour on DMR, up to `upto`, some of them lossy, and
    one a day on a mode without a link.
    """
    if span is None:
        return Links(Stretch(start, end, zone, (end - start) / SECOND), (), 0)
    first, last = span
    times = np.arange(first, min(last, last if upto is None else upto), HOUR, dtype=np.int64)
    modes = ["dstar" if place % 24 == 5 else "dmr" for place in range(len(times))]
    loss = np.where(np.arange(len(times)) % 9 == 0, 7.5, 0.5)
    overs = LinkOvers(times, times + MINUTE, modes, ["99950"] * len(times), loss)
    told = changes if changes is not None else changes_of(first, last - 10 * DAY)
    heard = Heard(sp.spans([first], [min(end, last)]), overs, Stretch(start, end, zone, 0.0))
    return links({key: [one for one in mine if one[0] < end] for key, mine in told.items()}, heard)
