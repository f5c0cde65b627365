"""A suggestion is the best of many: it must speak where timers matter, and hardly ever where they don't."""

import numpy as np

from server.analytics.best_of_many import stand_out
from server.analytics.suggestion import suggest
from tests.replay.suggestion_groups import group, spoken


def test_where_timers_make_no_difference_a_change_is_suggested_in_under_5_percent() -> None:
    # 36 kinds of group, 6 of each: 216 trials here, 3,600 in the bench (tests/benchmarks/results/suggestion.md).
    found, total = spoken(6)
    assert total == 216 and found < 0.05 * total, f"{found} of {total}"


def test_one_hold_of_48_that_halves_the_shut_outs_of_a_busy_mode_is_found() -> None:
    rng = np.random.default_rng(3)
    found = [suggest(group(rng, 28, 10.0, 1.0, 0.8, better=0.5)) for _ in range(20)]
    assert sum(one.change is not None and one.change.to_s == 10.0 for one in found) == 20


def test_the_best_of_one_needs_less_than_the_best_of_many() -> None:
    rng = np.random.default_rng(8)
    gains = rng.normal(0.0, 1.0, (50, 28)) * 6
    gains[0] -= gains[0].mean()
    # 2.6 standard errors: enough for a single candidate, not for the best of fifty
    gains[0] += 2.6 * gains[0].std(ddof=1) / np.sqrt(28)
    assert stand_out(gains[:1]).all() and not stand_out(gains).any()


def test_nothing_stands_out_of_nothing() -> None:
    assert not stand_out(np.zeros((3, 28))).any() and stand_out(np.zeros((0, 28))).shape == (0,)
    assert not stand_out(np.ones((2, 1))).any()
