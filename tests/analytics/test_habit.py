"""What `quiet_log_s` is proposed from: the log's own habit."""

import numpy as np

from server.analytics.habit import habit_of
from shared.zones import DAY, SECOND

PULSE = 600 * SECOND


def test_a_pulse_of_ten_minutes_and_one_long_silence_propose_half_an_hour() -> None:
    stamps = np.arange(0, 91 * DAY, PULSE, dtype=np.int64)
    stamps = stamps[(stamps < 50 * DAY) | (stamps > 80 * DAY)]
    habit = habit_of(stamps)
    assert habit is not None
    assert (habit.weeks, habit.usual_s, habit.proposed_s, habit.longer) == (13, 600.0, 1800, 1)
    assert habit.longest_s > 30 * 86_400


def test_a_log_without_a_pulse_proposes_twice_what_comes_about_once_a_week() -> None:
    days = np.arange(0, 91) * DAY
    stamps = np.sort(np.concatenate([days, days + 14 * 3600 * SECOND]))  # silent for 10 h and 14 h each day
    habit = habit_of(stamps)
    assert habit is not None and habit.usual_s == 14 * 3600 and habit.proposed_s == 28 * 3600 and habit.longer == 0


def test_of_a_few_days_or_a_few_lines_nothing_is_proposed() -> None:
    assert habit_of(np.arange(0, 3 * DAY, PULSE, dtype=np.int64)) is None
    assert habit_of(np.array([0, 90 * DAY], dtype=np.int64)) is None
