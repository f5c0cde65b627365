"""Airtime by local day and clock hour against pandas' calendar, half minute by half minute."""

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.analytics.dayhour import day_hour_map
from shared import spans as sp
from shared.zones import HOUR, SECOND, midnight, to_us

LONDON = ZoneInfo("Europe/London")
STEP = 30 * SECOND
ZONES = [LONDON, ZoneInfo("Asia/Kolkata"), ZoneInfo("Australia/Lord_Howe"), ZoneInfo("America/Havana")]
BASES = [dt.datetime(2026, month, day, tzinfo=dt.UTC) for month, day in ((6, 1), (3, 28), (10, 24), (4, 4), (3, 7))]

steps = st.lists(st.tuples(st.integers(0, 8000), st.integers(0, 400)).map(lambda p: (p[0], p[0] + p[1])), max_size=6)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(ZONES), st.sampled_from(BASES), steps, steps, st.integers(0, 4000), st.integers(1, 4000))
def test_the_map_agrees_with_pandas_calendar(
    zone: ZoneInfo, base: dt.datetime, busy: list, unseen: list, begin: int, length: int
) -> None:
    zero = to_us(base)
    columns = [sp.union(np.array(some, dtype=np.int64).reshape(-1, 2) * STEP + zero) for some in (busy, unseen)]
    found = day_hour_map(columns[0], (zero + begin * STEP, zero + (begin + length) * STEP), zone, columns[1])

    every = np.arange(begin, begin + length)
    instants = (pd.Timestamp(base) + pd.to_timedelta(every * 30, unit="s")).tz_convert(zone.key)
    on, dark = ([any(start <= step < end for start, end in some) for step in every.tolist()] for some in (busy, unseen))
    frame = pd.DataFrame({"day": instants.date, "hour": instants.hour, "on": on, "seen": ~np.array(dark, dtype=bool)})
    by = frame.groupby(["day", "hour"]).sum()
    assert list(found.days) == sorted(set(frame["day"]))
    for row, day in enumerate(found.days):
        for hour in range(24):
            on_here, seen = by.loc[(day, hour)] if (day, hour) in by.index else (0, 0)
            assert found.seconds[row, hour] == (on_here * 30 if on_here or seen else pytest.approx(np.nan, nan_ok=True))
            assert found.share[row, hour] == pytest.approx(on_here / seen if seen else np.nan, nan_ok=True)


def test_a_day_of_23_hours_lacks_an_hour_and_a_day_of_25_adds_the_repeated_one() -> None:
    """Europe/London, IANA tz database (worked): 2026-03-29 has no 01:00 to 02:00, 2026-10-25 has it twice."""
    always = sp.spans([0], [midnight(dt.date(2027, 1, 1), LONDON)])
    spring, autumn = (
        day_hour_map(always, (midnight(day, LONDON), midnight(day + dt.timedelta(days=1), LONDON)), LONDON)
        for day in (dt.date(2026, 3, 29), dt.date(2026, 10, 25))
    )
    assert spring.seconds.shape == (1, 24) and np.flatnonzero(np.isnan(spring.seconds)).tolist() == [1]
    assert np.nansum(spring.seconds) == 23 * 3600
    assert autumn.seconds[0, 1] == 7200 and autumn.share[0, 1] == 1.0 and autumn.seconds.sum() == 25 * 3600


def test_hours_outside_the_window_and_hours_unseen_are_not_nought() -> None:
    day = midnight(dt.date(2026, 11, 16), LONDON)
    found = day_hour_map(sp.NONE, (day + HOUR, day + 4 * HOUR), LONDON, sp.spans([day + 2 * HOUR], [day + 3 * HOUR]))
    assert np.flatnonzero(found.seconds[0] == 0).tolist() == [1, 3]
    assert day_hour_map(sp.NONE, (day, day), LONDON).days == ()
