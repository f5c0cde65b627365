"""The rule about reception: what raises it, when, that it is raised once, and that it goes by what was known then."""

import datetime as dt
import os
import subprocess
import sys

import numpy as np
import pytest

from server.alerts.engine import replay, run
from server.alerts.history import History
from server.alerts.incident import Incident
from server.alerts.load import station_number
from server.alerts.states import State, speak
from server.analytics.polish import Heard
from server.telling.caution import WORK
from server.telling.notices import digest_body, notice_body
from shared.zones import DAY, HOUR, from_us, midnight
from tests.alerts.worlds import LIMITS, ZONE

FIRST = dt.date(2026, 8, 3)
DAYS = 110


def world(*faults: tuple[int, float], stations: int = 10, days: int = DAYS, seed: int = 1, radios: int = 1) -> History:
    """Stations that are heard on most days, with faults from a day on (dB more); one may buy a radio on day 50."""
    rng = np.random.default_rng(seed)
    common = 0.5 * rng.standard_normal(days)
    for since, db in faults:
        common[since:] += db
    rows = []
    for day in range(days):
        at = midnight(FIRST + dt.timedelta(days=day), ZONE)
        for station in np.flatnonzero(rng.random(stations) < 0.7).tolist():
            gained = 8.0 if station < radios and day >= 50 else 0.0
            level = -80.0 - 3 * station + common[day] + gained + 2 * rng.standard_normal()
            rows.append((at + int(rng.integers(8 * HOUR, 22 * HOUR)), station % 2, station, level))
    rows.sort()
    start, mode, station_codes, level_column = (np.array(column) for column in zip(*rows, strict=True))
    return History(heard=Heard(start, mode, station_codes, level_column, np.full(len(rows), np.nan)))


def at(day: int, hours: int = 0) -> int:
    return midnight(FIRST + dt.timedelta(days=day), ZONE) + hours * HOUR


def found_in(history: History, start: int = at(20), end: int = at(DAYS)) -> list[Incident]:
    return replay(history, start, end, LIMITS, only="reception")


def test_a_fall_of_six_decibels_is_raised_once_when_it_is_sure() -> None:
    (one,) = found_in(world((60, -6.0)))
    assert (one.rule, one.subject, one.urgent) == ("reception", "weaker", False)
    assert at(67) < one.raised <= at(75) and from_us(one.raised, ZONE).hour == 4
    assert one.began is not None and abs(one.began - at(60)) <= DAY
    assert one.says.startswith("From ") and " dB weaker (" in one.says and "\u00a0" not in one.says
    day = from_us(one.raised, ZONE).day
    assert "), as known on " in one.says and f" {day} Oct. The Reception page has the present figure." in one.says


def test_it_is_cleared_after_four_weeks_or_by_the_repair() -> None:
    (one,) = found_in(world((50, -6.0)))
    assert one.cleared == one.raised + 28 * DAY + (one.cleared - one.raised) % DAY  # an hour more over a clock change
    fall, rise = found_in(world((60, -6.0), (85, 6.0)))
    assert (fall.subject, rise.subject) == ("weaker", "stronger")
    assert fall.cleared is not None and at(85) < fall.cleared <= rise.raised


@pytest.mark.parametrize("seed", range(4))
def test_two_decibels_a_new_radio_and_quiet_times_raise_nothing(seed: int) -> None:
    assert found_in(world((60, -2.0), seed=seed)) == []
    assert found_in(world(seed=seed, radios=2)) == []


def test_the_first_mornings_of_a_log_raise_nothing() -> None:
    # over the very first of them nobody has been heard on a whole day yet
    for first_hour in (0, 23):
        assert found_in(world((60, -6.0)), at(0, -first_hour), at(3)) == []
    standing = run(world(days=1), at(0), at(1), LIMITS, {("reception", "weaker"): at(-1)}, only="reception")
    assert [(one.subject, one.cleared) for one in standing] == [("weaker", None)]


def test_what_is_large_but_not_sure_raises_nothing() -> None:
    assert found_in(world((60, -6.0), stations=2)) == []  # nobody knows what two have in common


def test_steps_of_a_watch_find_what_a_replay_finds_and_nothing_twice() -> None:
    history = world((60, -6.0), (90, 5.0))
    whole = found_in(history)
    raised: dict[tuple[str, int], int | None] = {}
    stands: dict[tuple[str, str], int] = {}
    for hour in range(20 * 24 - 24, DAYS * 24, 6):
        for one in run(history, at(0, hour), at(0, hour + 6), LIMITS, stands, only="reception"):
            raised[one.subject, one.raised] = one.cleared
            stands.pop((one.rule, one.subject), None)
            if one.cleared is None:
                stands[one.rule, one.subject] = one.raised
    assert raised == {(one.subject, one.raised): one.cleared for one in whole}


def test_nothing_is_known_before_its_morning() -> None:
    history = world((60, -6.0))
    (one,) = found_in(history)
    assert found_in(history, end=one.raised) == []
    assert [it.raised for it in found_in(history, end=one.raised + HOUR)] == [one.raised]


def test_it_speaks_once_in_the_morning_digest_and_never_reminds() -> None:
    raised = at(70, 4)
    state = State(1, "reception", "weaker", raised, None, False, "From Fri 2 Oct on, ...", began=at(60))
    spoken, (waits,) = speak([state], raised, LIMITS)
    assert spoken == [] and waits.next_us == at(70, 7)
    (said,), (told,) = speak([waits], at(70, 7), LIMITS)
    assert said.kind == "raised" and said.digest
    for hours in range(8, 24 * 20, 12):
        assert speak([told], at(70, hours), LIMITS)[0] == []
    assert WORK in notice_body(said.state, at(70, 7), ZONE) and WORK in digest_body([said.state], at(70, 7), ZONE)


@pytest.mark.parametrize("salt", ["1", "2"])
def test_a_station_has_the_same_number_in_every_process(salt: str) -> None:
    # Python salts the hash of a text for each process (PYTHONHASHSEED); the draws of an interval go by these numbers.
    told = subprocess.run(
        [sys.executable, "-c", "from server.alerts.load import station_number; print(station_number('QB0BFR'))"],
        env={**os.environ, "PYTHONHASHSEED": salt}, capture_output=True, text=True, check=True,
    )  # fmt: skip
    # RFC 7693, by `printf QB0BFR | b2sum -l 64`
    assert int(told.stdout) == station_number("QB0BFR") == int("7d557dd9260e61b8", 16) >> 1
