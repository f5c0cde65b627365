"""In which local hours a change of reception holds. Pure."""

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints
from server.analytics.polish import Floats, Overs, cell_medians, medians, stations_of

HOURS = 24
PART, APART = 6, 3  # hours of a part of the day that is looked at, and how far apart these begin
LEAST_TELLING = 3  # stations that tell of an hour, before and after
LONGEST = 18  # hours; what holds in more is a change of the whole day


def inside(hours: tuple[int, ...]) -> npt.NDArray[np.bool_]:
    """Local hours as a mask, shape (24,)."""
    mask = np.zeros(HOURS, dtype=np.bool_)
    mask[list(hours)] = True
    return mask


#: The parts of the day, each as a mask of hours.
PARTS = tuple(inside(tuple((first + hour) % HOURS for hour in range(PART))) for first in range(0, HOURS, APART))


def arc_of(overs: Overs, rest: Floats, place: int) -> tuple[int, ...] | None:
    """The hours in a row, over midnight too, that best divide those that moved from those that did not, from the day
    `place` on; `rest` is each over's value less what is usual for its pair. None where too few hours are told of.
    """
    moved, weight = _moved_by_hour(overs, rest, place)
    told = np.flatnonzero(weight)
    if len(told) < 2:
        return None
    best: tuple[float, tuple[int, ...]] = (0.0, ())
    for first in told.tolist():
        for last in told.tolist():
            hours = tuple((first + hour) % HOURS for hour in range((last - first) % HOURS + 1))
            if len(hours) > LONGEST:
                continue
            best = max(best, (_divided(moved, weight, inside(hours)), hours))
    return best[1] or None


def _moved_by_hour(overs: Overs, rest: Floats, place: int) -> tuple[Floats, Ints]:
    """By how much what the pairs have in common moved in each hour, and how many stations tell it."""
    shape = (len(overs.station), HOURS)
    sides = [
        cell_medians((overs.row * HOURS + overs.hour)[side], rest[side], shape)
        for side in (overs.day < place, overs.day >= place)
    ]
    counts = np.minimum(*(stations_of(~np.isnan(side), overs.station) for side in sides))
    moved = medians(sides[1], 0) - medians(sides[0], 0)
    weight = np.where(counts >= LEAST_TELLING, counts, 0)
    return np.where(weight > 0, moved, 0.0), weight


def _divided(moved: Floats, weight: Ints, mask: npt.NDArray[np.bool_]) -> float:
    """How much of the weighted squares about the mean a division into two explains, where what is inside moved
    further than what is outside; otherwise nothing.
    """
    here, there = float(weight[mask].sum()), float(weight[~mask].sum())
    if not here or not there:
        return 0.0
    first, second = (float((moved * weight)[part].sum()) / many for part, many in ((mask, here), (~mask, there)))
    return here * there / (here + there) * (first - second) ** 2 if abs(first) > abs(second) else 0.0
