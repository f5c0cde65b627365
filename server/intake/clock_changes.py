"""Stamps that jump back an hour, as clocks of the station's zone do, while the dialect's zone has no such change."""

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from shared.zones import SECOND, from_us

STEPPED = "stepped back "  #: and a log's name: the fact of the last stamp after such a step, microseconds
LEAST, MOST = 40 * 60 * SECOND, 80 * 60 * SECOND  # lines don't come each second


def steps_back(stamps: npt.NDArray[np.int64]) -> list[int]:
    """Where stamps (n,) in the order of their lines go back by about an hour: the first stamp after each step."""
    back = stamps[:-1] - stamps[1:]
    return [int(at) for at in stamps[1:][(back >= LEAST) & (back <= MOST)]]


def change_of_clocks(after: int, read_in: ZoneInfo, station: ZoneInfo) -> dt.date | None:
    """The day on which the station's clocks went back, where a step to this instant, read in the dialect's zone, fits
    it; None where the dialect's zone went back too, or neither did.
    """
    wall = from_us(after, read_in).replace(tzinfo=None, fold=0)
    return wall.date() if _comes_twice(wall, station) and not _comes_twice(wall, read_in) else None


def _comes_twice(wall: dt.datetime, zone: ZoneInfo) -> bool:
    first, second = (wall.replace(tzinfo=zone, fold=fold).utcoffset() for fold in (0, 1))
    return first is not None and second is not None and first > second


def zone_words(steps: list[int], read_in: ZoneInfo, station: ZoneInfo) -> str | None:
    """What to mend, in a sentence; None where nothing is."""
    days = [day for step in steps if (day := change_of_clocks(step, read_in, station)) is not None]
    if not days:
        return None
    on = f"{days[-1].day} {days[-1]:%B %Y}"
    return (
        f"The stamps jump back an hour on {on}, as clocks in {station.key} do, but they are read in {read_in.key}: "
        f'set zone = "{station.key}" in the dialect, then `airtally ingest --again`.'
    )
