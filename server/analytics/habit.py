"""What a log's own habit says about how long it is silent while its host works. Pure."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from shared.zones import DAY, SECOND

KNOWN = 7 * DAY  # of log, without which nothing is said
LINES_AT_LEAST = 100
TIMES, LEAST_S = 2, 1800  # as the rule gone-silent has it
STEP_S = 300


@dataclass(frozen=True)
class Habit:
    """Silences of one log."""

    weeks: int  #: looked at
    usual_s: float  #: a longer silence came less often than once a week
    proposed_s: int  #: for `quiet_log_s`
    longer: int  #: silences beyond that
    longest_s: float


def habit_of(stamps: npt.NDArray[np.int64]) -> Habit | None:
    """The habit of a log by the instants of its lines (n,), sorted, microseconds; None where too little is known."""
    if len(stamps) < LINES_AT_LEAST or stamps[-1] - stamps[0] < KNOWN:
        return None
    gaps = np.sort(np.diff(stamps))
    weeks = max(1, round(int(stamps[-1] - stamps[0]) / (7 * DAY)))
    usual = float(gaps[max(0, len(gaps) - 1 - weeks)]) / SECOND
    proposed = max(LEAST_S, -(-int(TIMES * usual) // STEP_S) * STEP_S)
    return Habit(weeks, usual, proposed, int((gaps > proposed * SECOND).sum()), float(gaps[-1]) / SECOND)
