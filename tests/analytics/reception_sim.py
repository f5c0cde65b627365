"""Simulated stations that a repeater hears, with what was done to its receiver: known truth for the reception's
changes. Levels are invented: the sizes of the noise are our own choice (common practice, no source).
"""

import datetime as dt
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics.activity import Ints
from server.analytics.figure_types import Stretch
from server.analytics.polish import Heard, overs_of
from server.analytics.reception import AirOvers, Reception, reception, regulars
from server.analytics.reception_changes import Change, changes, series_of
from shared.zones import DAY, HOUR

FIRST = dt.date(2026, 1, 5)


@dataclass(frozen=True)
class Hill:
    """One repeater over some days."""

    stations: int = 10
    days: int = 365
    faults: tuple[tuple[int, float], ...] = ()  #: from which day on, how many dB more (lasting)
    noises: tuple[tuple[int, float], ...] = ()  #: from which day on, how many points of errors more
    sources: tuple[tuple[int, float, tuple[int, ...]], ...] = ()  #: the same with the local hours in which alone
    drift_db: float = 1.0  #: amplitude of the season
    weather_db: float = 0.6  #: of a day, all stations alike
    lifts: int = 3  #: spells of a day or two with 8 dB more
    radios: int = 2  #: stations that change their radio
    seed: int = 1
    presence: float = field(default=0.5)  #: share of days on which a station is heard
    night: float = 0.0  #: how often it is heard in an hour from 22 to 7, to one of the day


def simulate(hill: Hill) -> Reception:
    """What the reception makes of it."""
    heard, edges = heard_on(hill)
    window = Stretch(0, hill.days * DAY, ZoneInfo("UTC"), 0.0)
    overs = AirOvers(len(heard.start), len(heard.start))
    return reception(window, heard, overs, dates_of(hill), edges)


def changes_on(hill: Hill) -> list[Change]:
    """Its changes alone, which is quicker than all that is told of it."""
    heard, edges = heard_on(hill)
    every = overs_of(heard, edges, heard.start % DAY // HOUR)
    overs = every.where(regulars(every.readings().heard()))
    return changes(overs, series_of(overs), dates_of(hill))


def dates_of(hill: Hill) -> list[dt.date]:
    return [FIRST + dt.timedelta(days=n) for n in range(hill.days)]


def heard_on(hill: Hill) -> tuple[Heard, Ints]:
    """What was heard, and the midnights around the days."""
    rng = np.random.default_rng(hill.seed)
    day = np.arange(hill.days)
    common = hill.drift_db * np.sin(2 * np.pi * (day + rng.uniform(0, 365)) / 365)
    common += hill.weather_db * rng.standard_normal(hill.days)
    for _ in range(hill.lifts):
        at = int(rng.integers(0, hill.days - 2))
        common[at : at + int(rng.integers(1, 3))] += 8.0
    for since, db in hill.faults:
        common[since:] += db
    noise = sum((np.where(day >= since, pct, 0.0) for since, pct in hill.noises), np.zeros(hill.days))
    own = np.zeros((hill.stations, hill.days))
    for station in rng.choice(hill.stations, min(hill.radios, hill.stations), replace=False).tolist():
        own[station, int(rng.integers(20, hill.days - 20)) :] += rng.uniform(3, 9) * rng.choice([-1, 1])
    starts, stations, rssi, ber = [], [], [], []
    usual = rng.uniform(-110, -75, hill.stations)
    for station in range(hill.stations):
        for at in np.flatnonzero(rng.random(hill.days) < hill.presence).tolist():
            overs = int(rng.integers(1, 12))
            since = np.sort(rng.integers(7 * HOUR, 22 * HOUR, overs))
            if hill.night:
                hours = np.where((np.arange(24) >= 7) & (np.arange(24) < 22), 1.0, hill.night)
                since = np.sort(rng.choice(24, overs, p=hours / hours.sum()) * HOUR + rng.integers(0, HOUR, overs))
            starts.append(at * DAY + since)
            stations.append(np.full(overs, station))
            rssi.append(usual[station] + common[at] + own[station, at] + 2.5 * rng.standard_normal(overs))
            more = noise[at] + sum(pct * np.isin(since // HOUR, of) for first, pct, of in hill.sources if at >= first)
            ber.append(np.clip(0.3 + more + 0.2 * rng.standard_normal(overs), 0, None))
    edges = np.arange(hill.days + 1, dtype=np.int64) * DAY
    station = np.concatenate(stations)
    heard = Heard(np.concatenate(starts), station % 2 + 1, station, np.concatenate(rssi), np.concatenate(ber))
    return heard, edges
