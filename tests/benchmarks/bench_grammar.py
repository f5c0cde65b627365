"""How well `adopt` learns hosts drawn from the grammar, by production, and whether its doubt can be trusted.

AIRTALLY_GRAMMAR_HOSTS sets how many hosts are drawn in all; two fifths take productions that nothing was tuned on.
"""

import os
import time

from tests.adopt.grammar.bench import outcomes, reliability, table

HOSTS, SHORT = 2000, 12
#: which share of the hosts, and how they are drawn
DRAWS = (
    ("Productions by somebody who had not looked at the learner", 0.4, {"fresh": True}),
    ("Productions kept apart at first, and looked at since", 0.2, {"held": True}),
    ("Productions that were tuned on", 0.2, {"held": False}),
    ("Made-up words, a tenth of the lines lost", 0.15, {"held": False, "made_up": True}),
    ("Thin logs, 20 overs a day", 0.05, {"held": False, "thin": True}),
)


def run(full: bool) -> str:
    """The section of the report."""
    hosts = int(os.environ.get("AIRTALLY_GRAMMAR_HOSTS", HOSTS if full else SHORT))
    parts = [
        "## adopt on drawn hosts",
        "Learnt from two days, used on five; every question of four runs answered by somebody who knows the host.",
    ]
    every = []
    for name, share, how in DRAWS:
        began = time.perf_counter()
        found = outcomes(max(2, round(share * hosts)), **how)
        every += found
        parts.append(f"### {name}\n\n{table(found)}\n\nIn {time.perf_counter() - began:.0f} s.")
    parts.append(f"### How far the doubt can be trusted\n\n{reliability(every)}")
    return "\n\n".join(parts)
