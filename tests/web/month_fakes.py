"""A month at Brackenfell around the figures of a fake source."""

from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.compare import CHANNEL, Change
from server.analytics.figure_types import Figures
from server.analytics.links import LinkFigures, Outage
from server.analytics.shorter_hold import ShorterHold
from server.report.month import Completeness, Incident, Month, MonthSums, months_before
from server.report.privacy import without_small_groups
from server.telling.period import NamedLink, WideTalk
from shared.timers import Timers
from shared.zones import HOUR, local_days, month_window


def link_down(start: int, up_h: int, down_h: int) -> LinkFigures:
    """A link that was down for the first hours of a month, and up for the rest."""
    outages = (Outage(start, start + down_h * HOUR, down_h * HOUR),) if down_h else ()
    share = up_h / (up_h + down_h)
    return LinkFigures(("fellnet", None, None), 3600.0 * (up_h + down_h), share, 3600.0 * down_h, outages, 0)


def month_like(
    name: str,
    figures: Figures,
    hours: npt.NDArray[np.float64],
    zone: ZoneInfo,
    timers: Timers,
    callsign: str,
    place: str,
    known: bool,
) -> Month:
    """The month named, with these figures (their window may be a week: the page shows what it is given), links,
    incidents and advice.
    """
    start, end = month_window(name, zone)
    days = tuple(day for day, _, _ in local_days(start, end, zone))
    whole = np.resize(hours, (len(days), 24)) if len(hours) else np.full((len(days), 24), np.nan)
    airtime = {CHANNEL: figures.channel.airtime_s or 0.0} | {
        mode: its.airtime_s or 0.0 for mode, its in figures.modes.items()
    }
    sums = [
        MonthSums(each, 1.0 if known else 0.0, {mode: value * (0.9 + 0.02 * at) for mode, value in airtime.items()}, {})
        for at, each in enumerate([*reversed(months_before(name, 12)), name])
    ]
    return Month(
        name=name,
        callsign=callsign,
        place=place,
        zone=zone,
        start=start,
        end=end,
        figures=without_small_groups(figures),
        trend=tuple(sums),
        changes={
            mode: Change(value * 0.1, value * 0.2, value * 0.8, mode == CHANNEL) for mode, value in airtime.items()
        },
        days=days,
        hours=tuple(tuple(None if np.isnan(cell) else float(cell) for cell in row) for row in whole),
        links=(NamedLink("fellnet", link_down(start, 30 * 24 - 9, 9)),) if known else (),
        wide=(WideTalk("dmr", "All fells", 11, 4_820.0),) if known else (),
        incidents=(
            Incident("over-runs-on", "dstar", start + HOUR, start + 3 * HOUR, True),
            Incident("link-down", "fellnet", start, None),
        ),
        watched=True,
        completeness=Completeness(1.0 if known else 0.0, True),
        shorter_hold=ShorterHold("c4fm", "dstar", 20.0, 8.0, 55, 31, 0.14, 0.09, 0.02, 3) if known else None,
        timers=timers,
        duty_rating=0.5,
    )
