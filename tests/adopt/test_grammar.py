"""Hosts drawn from the grammar: what comes of them in the suite's short form, with floors that are raised as the
learner gets better.

A day of learning and two of use, so that the suite stays quick; the long form (`make bench`) learns from two days
and reads five.
"""

from functools import lru_cache

import pytest

from tests.adopt.grammar.bench import Outcome, outcome

HOSTS = 20
#: (right in mode and duration, right in every field) of HOSTS, and how many may be wrong and called good: what held
#: when last measured
FLOORS = {"open": (20, 20, 0), "held": (20, 17, 0), "made up": (16, 15, 0)}


@lru_cache
def tried(kind: str) -> list[Outcome]:
    held, made_up = kind == "held", kind == "made up"
    return [outcome(seed, held=held, made_up=made_up, days=2, learn_days=1) for seed in range(HOSTS)]


@pytest.mark.parametrize("kind", FLOORS)
def test_drawn_hosts_come_out_right_as_often_as_when_last_measured(kind: str) -> None:
    found = tried(kind)
    mode_and_duration, every_field, wrong = FLOORS[kind]
    assert sum(one.mode_and_duration for one in found) >= mode_and_duration, [
        one.seed for one in found if not one.mode_and_duration
    ]
    assert sum(one.every_field for one in found) >= every_field, [
        (one.seed, one.wrong) for one in found if not one.every_field
    ]
    assert sum(one.wrong_and_good for one in found) <= wrong, [
        (one.seed, one.wrong) for one in found if one.wrong_and_good
    ]
