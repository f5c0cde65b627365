"""`as_json` is the contract: the same keys in the same order, and the same bytes as when the figures were plain
JSON.
"""

import hashlib
import json
from pathlib import Path
from typing import Any

import numpy as np
import random_weeks
from analytics_world import LONDON

from docs.examples import shown
from server.analytics.figure_types import LineCounts
from server.analytics.figures import figures

CONTRACT = Path(__file__).parents[2] / "docs" / "contract.md"
#: Of the JSON of the logs below, as it was printed before the figures had types. To be made anew where a definition or
#: the random logs change, and only then.
BEFORE = "275d26ea50dcdce5d96b023cc50d86a2"


def printed(seed: int) -> str:
    world = random_weeks.world(np.random.default_rng(seed))
    timers = world.rules.timers()
    counts = LineCounts(3, 3, 3, 3, 3, 3)
    return json.dumps(figures(world.activity(), world.window_us, timers, LONDON, "QB0BFR", counts).as_json())


def order_of(value: Any) -> Any:
    """Keys in their order, however deep; of modes and shut-outs the first."""
    if isinstance(value, dict):
        return [(key, order_of(its)) for key, its in value.items() if key != "slot_s"]
    return order_of(value[0]) if isinstance(value, list) and value else None


def test_the_json_of_a_hundred_random_logs_is_byte_for_byte_what_it_was() -> None:
    lines = "\n".join(printed(seed) for seed in range(100))
    assert hashlib.blake2b(lines.encode(), digest_size=16).hexdigest() == BEFORE


def test_the_keys_stand_in_the_order_of_the_contract() -> None:
    contract = shown(CONTRACT.read_text(encoding="utf-8"))["figures --json"]
    whole = next(
        found for seed in range(100) if "dmr" in (found := json.loads(printed(seed)))["modes"] and found["shut_outs"]
    )
    whole["modes"] = {"dmr": whole["modes"]["dmr"]}
    assert order_of(whole) == order_of(contract)
