"""What of a run nobody saw, by the definition of seen time (docs/definitions.md): the truth's own walk from line to
line, which shares no code with the figures. Instants are integer milliseconds.
"""

import math
from collections.abc import Iterable
from itertools import pairwise

import polars as pl

Stretch = tuple[int, int]  #: from, to

CARRYING = {"over-start", "over-end", "refused", "page"}


def told_by(log: pl.DataFrame, quiet_s: float | None) -> list[Stretch]:
    """What a log tells of, from each line to the next: not while its host was stopped, nor through a long silence."""
    most_ms = math.inf if quiet_s is None else 1000 * quiet_s
    rows = list(zip((log["t"] // 1000).to_list(), log["event"].cast(pl.String).to_list(), strict=True))
    told, running = [], True
    for (t, event), (after, _) in pairwise(rows):
        if event in ("host-stop", "host-start"):
            running = event == "host-start"
        if running and after - t <= most_ms:
            told.append((t, after))
    return told


def unseen(
    logs: Iterable[pl.DataFrame], transmissions: Iterable[Stretch], quiet_s: float | None, first: int, after: int
) -> list[Stretch]:
    """The stretches of [first, after) that no log tells of and in which nothing was on the air."""
    logs = list(logs)
    carrying = [log for log in logs if CARRYING & set(log["event"].cast(pl.String))]
    seen = sorted([*transmissions, *(one for log in carrying or logs for one in told_by(log, quiet_s))])
    blind, reached = [], first
    for start, end in seen:
        if start > reached:
            blind.append((reached, min(start, after)))
        reached = max(reached, end)
        if reached >= after:
            break
    if reached < after:
        blind.append((reached, after))
    return [(start, end) for start, end in blind if start < end]
