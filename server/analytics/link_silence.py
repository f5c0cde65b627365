"""Silences of a link that are longer than its own history knows (docs/definitions.md, silence of a link). Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics.activity import Ints, Window
from server.analytics.figure_types import Json
from shared import spans as sp
from shared.zones import DAY, SECOND, iso

HISTORY = 91 * DAY  #: by which a link's silences are judged
KNOWN = 14 * DAY  #: up and seen, without which nothing is said
WEEK = 7 * DAY
TIMES = 3
PAUSE = (
    600 * SECOND
)  #: gaps of this length and more are pauses of a link; a link with fewer than one a day is not judged
PAUSES_A_WEEK = 7


@dataclass(frozen=True)
class Silence:
    """A silence of a link, microseconds: from the end of the over before it to the start of the next one."""

    start_us: int
    end_us: int
    seconds: float  #: of it in which the link was up and that was seen
    over: bool = True  #: False: no over through the link ended it in what is known

    def as_json(self, zone: ZoneInfo) -> Json:
        end = iso(self.end_us, zone) if self.over else None
        return {"from": iso(self.start_us, zone), "to": end, "seconds": self.seconds}


@dataclass(frozen=True)
class Silences:
    """A link's silences in a window, and the history that they are judged by."""

    usual_gap_s: float | None = None  #: a longer gap came less often than once a week
    silences: tuple[Silence, ...] | None = None  #: None: not known, as the history is too short
    last_over_us: int | None = None  #: when the last over through it ended, in the history


def silences(up: sp.Spans, start: Ints, end: Ints, window: Window) -> Silences:
    """The silences that reach into the window. `up`: when the link was up and that was seen, over its history up to the
    window's end, canonical; `start`, `end` (n,): the overs through it, sorted by start.
    """
    if not len(up):
        return Silences()
    first, last = int(up[0, 0]), int(up[-1, 1])
    covered = sp.union(sp.clip(sp.spans(start, end), first, last))
    last_over = int(covered[-1, 1]) if len(covered) else None
    begins = np.concatenate([[first], covered[:, 1]])  # of the gaps: before the first over, between two, after the last
    ends = np.concatenate([covered[:, 0], [last]])
    lengths = sp.covered_before(up, ends) - sp.covered_before(up, begins)
    usual = _usual(np.sort(lengths[1:-1]), sp.length(up))
    if usual is None:
        return Silences(last_over_us=last_over)
    found = [
        Silence(int(begins[place]), int(ends[place]), int(lengths[place]) / SECOND, place < len(covered))
        for place in np.flatnonzero((lengths > TIMES * usual) & (ends > window[0]) & (begins < window[1])).tolist()
    ]
    return Silences(usual / SECOND, tuple(found), last_over)


def _usual(gaps: Ints, known: int) -> int | None:
    """The gap (of those between two overs, sorted) that came about once a week; None where too little is known.

    A link that is used r times a week at random is silent for three such gaps about r⁻² times a week, so of one that
    is seldom used the longest silences would be told again and again.
    """
    weeks = max(1, round(known / WEEK))
    if known < KNOWN or int((gaps >= PAUSE).sum()) * WEEK < PAUSES_A_WEEK * known:
        return None
    return int(gaps[len(gaps) - 1 - weeks])
