"""The ledger on traffic that no repeater would let happen: any modes over and into one another, against the literal
twin.
"""

import numpy as np
import pytest

from server.demo.ledger import Ledger
from server.demo.repeater import Over, Refusal
from tests.demo.brute import Elementary, Log

MODES = (("dmr", 1), ("dmr", 2), ("dstar", None), ("c4fm", None))
END_S = 1200


def wild(seed: int) -> tuple[list[Over], list[Refusal]]:
    """Overs and refusals on a grid of whole seconds, so that ends, starts and holds often meet at one instant."""
    rng = np.random.default_rng(seed)
    overs = []
    for start in sorted(rng.integers(0, END_S - 200, size=30).tolist()):
        mode, slot = MODES[rng.integers(len(MODES))]
        end = start + int(rng.integers(1, 40))
        who = f"QA1XY{'ABC'[rng.integers(3)]}"
        overs.append(Over(start * 1000, end * 1000, mode, slot, "air", who, who, "x", "released", None, None, None))
    refusals = []
    for t in sorted(rng.choice(END_S - 100, size=25, replace=False).tolist()):
        mode, slot = MODES[rng.integers(len(MODES))]
        refusals.append(Refusal(t * 1000, mode, slot, "air", str(t), str(t), "x", "other-mode", None))
    return overs, refusals


@pytest.mark.parametrize("seed", range(40))
def test_idle_hold_holders_and_waits_are_what_a_literal_reading_gives(seed: int) -> None:
    overs, refusals = wild(seed)
    ledger = Ledger([0, END_S * 1000])
    rest = list(refusals)
    for over in overs:
        while rest and rest[0].t < over.start:
            ledger.refusal(rest.pop(0))
        ledger.over(over)
    for refusal in rest:
        ledger.refusal(refusal)
    ledger.close()
    told = ledger.figures(ledger.weeks)
    rows = [{"start": one.start * 1000, "end": (one.end or 0) * 1000, "mode": one.mode} for one in overs]
    slow = Elementary(Log(rows, []), 0, END_S * 1_000_000)
    for mode in slow.modes:
        assert told["modes"][mode]["idle_hold_s"] == pytest.approx(slow.seconds(slow.holding[mode] & ~slow.busy))
        assert told["modes"][mode]["airtime_s"] == pytest.approx(slow.seconds(slow.on[mode]))
    every = np.logical_or.reduce([slow.holding[mode] for mode in slow.modes]) & ~slow.busy
    assert told["channel"]["idle_hold_s"] == pytest.approx(slow.seconds(every))
    cells: dict[tuple[str, str], list[float]] = {}
    for one in refusals:
        holder, wait = slow.holder(one.mode, one.t * 1000)
        cells.setdefault((holder, one.mode), []).append(wait)
    assert {(c["held_by"], c["wanted"]): c["attempts"] for c in told["shut_outs"]} == {
        k: len(v) for k, v in cells.items()
    }
    for cell in told["shut_outs"]:
        waits = cells[cell["held_by"], cell["wanted"]]
        if cell["held_by"] == "unknown":
            assert cell["mean_wait_s"] is None
        else:
            assert cell["mean_wait_s"] == pytest.approx(sum(waits) / len(waits))


def test_time_over_a_midnight_is_shared_between_two_weeks_and_the_count_goes_to_the_first() -> None:
    ledger = Ledger([0, 100_000, 200_000])
    ledger.over(Over(90_000, 130_000, "dmr", 1, "air", "QA1XYZ", "QA1XYZ", "x", "released", None, None, None))
    ledger.close()
    first, second = (ledger.figures([one]) for one in ledger.weeks)
    assert (first["channel"]["airtime_s"], second["channel"]["airtime_s"]) == (10, 30)
    assert (first["channel"]["overs"], second["channel"]["overs"]) == (1, 0)
    assert second["channel"]["keyed_s"] == 32
    assert second["modes"]["dmr"]["idle_hold_s"] == 10
    assert second["modes"]["dmr"]["stations"] == 0
