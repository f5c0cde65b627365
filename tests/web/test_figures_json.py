"""`as_json` is the contract: on a hundred random logs the bytes of a layout written out by hand, and the keys in the
contract's order (docs/contract.md).
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from docs.examples import shown
from server.analytics.figure_types import Figures, LineCounts
from server.analytics.figures import figures
from shared.zones import iso
from tests.analytics.analytics_world import LONDON
from tests.web import random_weeks

CONTRACT = Path(__file__).parents[2] / "docs" / "contract.md"
CHANNEL = (
    "seen_s", "airtime_s", "occupancy", "keyed_s", "idle_hold_s", "overs", "pages", "overruns", "unfinished",
    "unfinished_longest_s", "stations", "pages_estimated", "pages_airtime_estimated_s",
)  # fmt: skip
MODE = (
    "erlang", "idle_hold_s", "shut_out_risk", "pages", "overs", "air_overs", "link_overs", "stations", "timeouts",
    "timeouts_estimated", "overruns", "near_timeouts", "timeout_lockouts", "kerchunks", "shut_outs_suffered",
    "shut_outs_caused", "doublings", "pages_estimated", "pages_airtime_estimated_s",
)  # fmt: skip
TALK = ("conversations", "turnaround_median_s", "short_gap_share", "local_on_wide_s", "local_on_wide")
INTAKE = ("lines", "understood", "ignored", "unread", "orphans", "doubtful")


def of(seed: int) -> Figures:
    world = random_weeks.world(np.random.default_rng(seed))
    timers = world.rules.timers()
    counts = LineCounts(6, 5, 4, 3, 2, 1)
    return figures(world.activity(), world.window_us, timers, LONDON, "QB0BFR", counts)


def by_hand(it: Figures) -> dict[str, Any]:
    """The JSON as docs/contract.md lays it out."""
    window, pairs = it.window, it.shut_outs
    times = lambda span: [None, None] if span is None else [iso(us, LONDON) for us in span]  # noqa: E731
    duty = {}
    for name, most in (("6min", it.duty.six), ("30min", it.duty.thirty), ("60min", it.duty.sixty)):
        start, end = times(most.span)
        duty[name] = {"share": most.share, "from": start, "to": end}
    return {
        "repeater": "QB0BFR",
        "window": {
            "from": iso(window.start_us, LONDON), "to": iso(window.end_us, LONDON), "zone": "Europe/London",
            "seconds": (window.end_us - window.start_us) / 1e6, "blind_s": window.blind_s,
        },
        "channel": {name: getattr(it.channel, name) for name in CHANNEL},
        "modes": {
            word: {
                "airtime_s": its.airtime_s,
                "slot_s": {"1": its.slots.first_s, "2": its.slots.second_s} if its.slots else {},
                "both_slots_s": its.slots.both_s if its.slots else None,
                **{name: getattr(its, name) for name in MODE},
            }
            for word, its in it.modes.items()
        },
        "shut_outs": None if pairs is None else [
            {
                "held_by": pair.held_by or "unknown", "wanted": pair.wanted or "unknown", "attempts": pair.attempts,
                "mean_wait_s": pair.mean_wait_s,
            }
            for pair in pairs
        ],
        "likely_waiters_estimated": it.likely_waiters_estimated,
        "busy_hour": {"start": it.busy_hour.start, "erlang": it.busy_hour.erlang, "days": it.busy_hour.days},
        "duty": duty,
        "talk": {name: getattr(it.talk, name) for name in TALK},
        "intake": {name: getattr(it.intake, name) for name in INTAKE},
    }  # fmt: skip


def order_of(value: Any) -> Any:
    """Keys in their order, however deep; of a list that of its first item."""
    if isinstance(value, dict):
        return [(key, order_of(its)) for key, its in value.items() if key != "slot_s"]
    return order_of(value[0]) if isinstance(value, list) and value else None


@pytest.mark.parametrize("seed", range(100))
def test_the_json_of_a_random_log_is_byte_for_byte_the_layout_of_the_contract(seed: int) -> None:
    found = of(seed)
    assert json.dumps(found.as_json()) == json.dumps(by_hand(found))


def test_the_keys_stand_in_the_order_of_the_contract() -> None:
    contract = shown(CONTRACT.read_text(encoding="utf-8"))["figures --json"]
    printed = (json.loads(json.dumps(of(seed).as_json())) for seed in range(100))
    whole = next(found for found in printed if "dmr" in found["modes"] and found["shut_outs"])
    whole["modes"] = {"dmr": whole["modes"]["dmr"]}
    assert order_of(whole) == order_of(contract)
