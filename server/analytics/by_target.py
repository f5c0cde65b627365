"""Overs and airtime by target and by reach (docs/definitions.md, Time on the air)."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from server.analytics.activity import UNKNOWN, Activity, Mask, Window, in_window
from server.analytics.planning import FEWEST
from shared import spans as sp
from shared.events import MODES
from shared.zones import SECOND

Known = Callable[[str | None, str], str | None]  #: the reach of a mode's target, None where the keeper named none
OTHERS, NOT_LOGGED = "others", "not logged"


@dataclass(frozen=True)
class Brought:
    """What came over something: overs that began in a window, and what they cover of it."""

    overs: int
    airtime_s: float


@dataclass(frozen=True)
class Targets:
    """By mode word (None: not known) and target, OTHERS or NOT_LOGGED, most airtime first; and by reach (None: not
    set).
    """

    rows: tuple[tuple[str | None, str, bool, Brought], ...]  #: mode, target or one of the words, whether it is a target
    reaches: dict[str | None, Brought]


def by_target(activity: Activity, window: Window, reach_of: Known) -> Targets:
    """Targets that the keeper named, and those that FEWEST stations or more used in the window; any other may be a
    person's own number, and stands among the others of its mode.
    """
    overs = activity.overs
    near = overs.where((overs.start < window[1]) & (overs.end >= window[0]))
    began = in_window(near.start, window)

    def brought(mine: Mask) -> Brought:
        covered = sp.clip(sp.union(near.spans()[mine]), *window)
        return Brought(int((mine & began).sum()), sp.length(covered) / SECOND)

    rows: dict[tuple[str | None, str, bool], Mask] = {}
    reaches: dict[str | None, Mask] = {}
    nothing = np.zeros(len(near), dtype=np.bool_)
    for mode, target in sorted(set(zip(near.mode.tolist(), near.target.tolist(), strict=True))):
        mine = (near.mode == mode) & (near.target == target)
        word = None if mode == UNKNOWN else MODES[mode]
        name = None if target == UNKNOWN else activity.targets[target]
        reach = None if name is None else reach_of(word, name)
        stations = np.unique(near.station[mine & began & (near.station != UNKNOWN)])
        told = name is not None and (reach is not None or len(stations) >= FEWEST)
        key = (word, name if told and name else NOT_LOGGED if name is None else OTHERS, told)
        rows[key] = rows.get(key, nothing) | mine
        reaches[reach] = reaches.get(reach, nothing) | mine
    found = [(*key, brought(mine)) for key, mine in rows.items()]
    found.sort(key=lambda row: (-row[3].airtime_s, row[0] or "", row[1]))
    return Targets(tuple(found), {reach: brought(mine) for reach, mine in reaches.items()})
