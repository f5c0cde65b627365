"""What the repeater heard over some weeks, invented: a feeder that broke, and a source of noise at night."""

import datetime as dt

from server.analytics.figure_types import Stretch
from server.analytics.reception import AirOvers, Day, Part, Reception
from server.analytics.reception_changes import Change, Kind, Size
from shared.zones import from_us

NIGHT = (22, 23, 0, 1)
BACK = {"deaf": 30, "noise": 12}  # days before the end


def reception_like(window: Stretch, *kinds: str) -> Reception:
    """The days of a window, with a change of each kind: deaf, noise."""
    first, last = (from_us(at, window.zone).date() for at in (window.start_us, window.end_us - 1))
    dates = [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]
    broken, noisy = (last - dt.timedelta(days=BACK[kind]) for kind in ("deaf", "noise"))
    changes = {
        "deaf": Change(
            broken, broken - dt.timedelta(days=1), broken, Size(-6.1, -6.8, -5.2), Size(0.9, 0.7, 1.2), Kind.DEAF, None,
            {"dmr": -6.0, "dstar": -6.3},
        ),
        "noise": Change(noisy, noisy, noisy, Size(0.1, -0.4, 0.5), Size(1.9, 1.6, 2.2), Kind.NOISE, NIGHT, {}),
    }  # fmt: skip
    found = tuple(sorted((changes[kind] for kind in kinds), key=lambda one: one.day))
    days = []
    for place, date in enumerate(dates):
        fell = -6.1 if "deaf" in kinds and date >= broken else 0.0
        wobble = ((place * 7) % 5 - 2) / 5
        known = place % 17 != 3
        days.append(
            Day(date, fell + wobble, fell + wobble - 0.8, fell + wobble + 0.7, -0.15 * fell, 14)
            if known
            else Day(date, None, None, None, None, 2)
        )
    loud = tuple(1.9 if date >= noisy else 0.0 for date in dates)
    parts = (Part(NIGHT, tuple(0.0 for _ in dates), loud),) if "noise" in kinds else ()
    return Reception(window, 31, 900, AirOvers(1_800, 1_700), True, tuple(days), found, parts)


def nothing_heard(window: Stretch, overs: AirOvers = AirOvers(0, 0), readings: int = 0, regulars: int = 0) -> Reception:  # noqa: B008
    """Days of which nothing is known."""
    blank = reception_like(window)
    days = tuple(Day(one.day, None, None, None, None, min(1, regulars)) for one in blank.days)
    return Reception(window, regulars, readings, overs, bool(readings), days, ())
