"""One month, made of plain numbers, that never changes: for pictures."""

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from server.analytics.airtime import Fullest
from server.analytics.compare import CHANNEL, Change
from server.analytics.exposure import Radiator, exposure
from server.analytics.figure_types import Channel, Duty, Figures, LineCounts, Mode, ShutOutPair, Slots, Stretch, Talk
from server.analytics.shorter_hold import ShorterHold
from server.analytics.traffic import BusyHour
from server.report.month import Completeness, Incident, Month, MonthSums, months_before
from server.report.privacy import without_small_groups
from server.telling.period import NamedLink, WideTalk
from shared.timers import Timers
from shared.zones import HOUR, SECOND, month_window
from tests.figures_like import mode as mode_like
from tests.web.month_fakes import link_down

ZONE = ZoneInfo("Europe/London")
START, END = month_window("2026-10", ZONE)


def mode(airtime_s: float, overs: int, stations: int, **others: Any) -> Mode:
    """One mode's figures."""
    its: dict[str, Any] = {
        "erlang": airtime_s / 2_682_000, "idle_hold_s": overs * 4.5, "stations": stations, "timeouts": overs // 500,
        "near_timeouts": overs // 300, "kerchunks": overs // 40, "shut_outs_suffered": 21, "shut_outs_caused": 21,
        "doublings": overs // 400,
    }  # fmt: skip
    return mode_like(airtime_s, overs, **{**its, **others})


def still_figures(airtime: float) -> Figures:
    """Of a busy month."""
    modes = {
        "dmr": mode(
            128_000 * airtime,
            5_662,
            120,
            slots=Slots(62_000.0, 70_000.0, 4_000.0),
            timeouts_estimated=2,
        ),
        "c4fm": mode(78_400 * airtime, 3_290, 78),
        "dstar": mode(58_300 * airtime, 2_581, 75),
        "p25": mode(296 * airtime, 14, 3),
    }
    begin = START + 20 * HOUR
    return Figures(
        repeater="QB0BFR",
        window=Stretch(START, END, ZONE, 8_080.0),
        channel=Channel(
            airtime_s=262_000.0 * airtime,
            occupancy=0.098 * airtime,
            keyed_s=270_000.0,
            idle_hold_s=52_000.0,
            overs=11_547,
            pages=0,
            overruns=0,
            seen_s=2_673_920.0,
            unfinished=1,
            unfinished_longest_s=180.0,
            stations=190,
        ),
        modes=modes,
        shut_outs=(
            ShutOutPair("dmr", "c4fm", 48, 165.4),
            ShutOutPair("dstar", "c4fm", 21, 310.0),
            ShutOutPair(None, "dmr", 2, None),
        ),
        likely_waiters_estimated=89,
        busy_hour=BusyHour("20:00", 0.41, 31),
        duty=Duty(
            Fullest(1.0, (begin, begin + 360 * SECOND)),
            Fullest(0.985, (begin, begin + 1800 * SECOND)),
            Fullest(0.96, (begin, begin + HOUR)),
        ),
        talk=Talk(1_320, 1.97, 0.34, 13_300.0, 77),
        intake=LineCounts(49_386, 43_429, 5_946, 11, 0, 0),
    )


def still_month(airtime: float = 1.0) -> Month:
    """October 2026 with everything that the report can show."""
    figures = still_figures(airtime)
    now = {CHANNEL: figures.channel.airtime_s or 0.0} | {
        word: its.airtime_s or 0.0 for word, its in figures.modes.items()
    }
    names = [*reversed(months_before("2026-10", 12)), "2026-10"]
    trend = tuple(
        MonthSums(
            name,
            0.0 if at < 2 else 0.3 if at == 2 else 1.0,
            {word: value * (0.7 + at / 40) for word, value in now.items()},
            {},
        )
        for at, name in enumerate(names[:-1])
    )
    hours = tuple(
        tuple(
            (
                None
                if day == 11 and 8 <= hour < 17
                else float((day * 7 + hour * hour) % 60 * (60 if 17 <= hour < 22 else 8))
            )
            for hour in range(24)
        )
        for day in range(31)
    )
    return Month(
        name="2026-10",
        callsign="QB0BFR",
        place="Brackenfell",
        zone=ZONE,
        start=START,
        end=END,
        figures=without_small_groups(figures),
        trend=(*trend, MonthSums("2026-10", 1.0, now, {})),
        changes={word: Change(value * 0.02, value * 0.2, value * 0.8, word == "c4fm") for word, value in now.items()},
        days=tuple(dt.date(2026, 10, day) for day in range(1, 32)),
        hours=hours,
        links=(NamedLink("fellnet", link_down(START, 720, 8)), NamedLink("mootnet", link_down(START, 728, 0))),
        wide=(WideTalk("c4fm", "Great Moot group", 48, 8_300.0), WideTalk("dmr", "Ŵyn ap Ŷgor, Ελληνικά", 29, 5_000.0)),
        incidents=(
            Incident("over-runs-on", "dstar", START + 50 * HOUR, START + 53 * HOUR, True),
            Incident("link-down", "fellnet", START, START + 8 * HOUR),
        ),
        watched=True,
        completeness=Completeness(0.9969, True),
        exposure=exposure(figures.window, figures.duty, Radiator(435.0, 25.0, 2.0, 8.15)),
        shorter_hold=ShorterHold("c4fm", "dmr", 20.0, 8.0, 48, 21, 0.14, 0.09, 0.02, 3),
        timers=Timers(180.0, (20.0,) * 9, (0.0,) * 9, 1.0),
        duty_rating=0.5,
    )
