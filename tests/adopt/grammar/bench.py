"""Many drawn hosts: how many come out right, by production, and how far the doubt can be trusted.

usage: python -m tests.adopt.grammar.bench open|held|fresh HOSTS [made] [thin]
"""

import sys
import time
from collections import defaultdict
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

from tests.adopt.grammar.trial import RIGHT, try_host


@dataclass(frozen=True)
class Outcome:
    """What is kept of one trial."""

    seed: int
    productions: tuple[tuple[str, str], ...]
    mode_and_duration: bool
    every_field: bool
    wrong_and_good: bool
    good: bool
    wrong: tuple[str, ...]  #: fields that came out wrong
    failed: str
    right: float  #: what the reading itself says of the share that is right
    both: float  #: the share that is right in mode and duration


def outcome(
    seed: int,
    *,
    held: bool = False,
    fresh: bool = False,
    made_up: bool = False,
    thin: bool = False,
    days: int = 5,
    learn_days: int = 2,
) -> Outcome:
    """One host, tried."""
    trial = try_host(
        seed, held=held, fresh=fresh, made_up=made_up, lossy=made_up, thin=thin, days=days, learn_days=learn_days
    )
    wrong = [key for key, share in trial.shares.items() if share < RIGHT]
    wrong += ["refusals"] * (not trial.refusals_right) + ["links"] * (trial.links is False)
    return Outcome(
        seed,
        tuple(trial.host.names.items()),
        trial.mode_and_duration,
        trial.every_field,
        trial.wrong_and_good,
        trial.good,
        tuple(wrong),
        trial.failed,
        trial.says_right,
        trial.shares.get("both", 0.0),
    )


def outcomes(
    hosts: int, *, held: bool = False, fresh: bool = False, made_up: bool = False, thin: bool = False, workers: int = 2
) -> list[Outcome]:
    """The first so many hosts."""
    with ProcessPoolExecutor(workers) as pool:
        return list(
            pool.map(partial(outcome, held=held, fresh=fresh, made_up=made_up, thin=thin), range(hosts), chunksize=2)
        )


def table(found: Sequence[Outcome]) -> str:
    """Counts of all, and of each production by how seldom every field came out right."""
    n = len(found)
    rows = [
        "| hosts | mode and duration | every field | wrong and called good | called good | no dialect |",
        "| --- " * 6 + "|",
        "| "
        + " | ".join(
            map(str, (n, *counts_of(found), sum(one.good for one in found), sum(bool(one.failed) for one in found)))
        )
        + " |",
        "",
        "Fields that came out wrong: " + (_fields(found) or "none") + ".",
        "",
        "| part | production | hosts | mode and duration | every field | wrong and called good |",
        "| --- " * 6 + "|",
    ]
    by: dict[tuple[str, str], list[Outcome]] = defaultdict(list)
    for one in found:
        for part, name in one.productions:
            by[part.rstrip(" 01"), name].append(one)
    for (part, name), some in sorted(
        by.items(), key=lambda item: sum(one.every_field for one in item[1]) / len(item[1])
    ):
        rows.append(f"| {part} | {name} | {len(some)} | {' | '.join(map(str, counts_of(some)))} |")
    return "\n".join(rows)


def counts_of(found: Sequence[Outcome]) -> list[int]:
    """How many are right in mode and duration, right in every field, wrong and called good."""
    return [sum(getattr(one, key) for one in found) for key in ("mode_and_duration", "every_field", "wrong_and_good")]


def _fields(found: Sequence[Outcome]) -> str:
    counts: dict[str, int] = defaultdict(int)
    for one in found:
        for key in one.wrong:
            counts[key] += 1
    return ", ".join(f"{key} on {count}" for key, count in sorted(counts.items(), key=lambda item: -item[1]))


def reliability(found: Sequence[Outcome]) -> str:
    """What readings say of the share that is right, beside what was: the nearer the two, the better the doubt can be
    trusted.
    """
    rows = [
        "| the reading says right | hosts | right in mode and duration, mean | of these at least 95 % right |",
        "| --- " * 4 + "|",
    ]
    edges = (0.0, 0.5, 0.8, 0.9, 0.95, 0.98, 1.0001)
    for low, high in pairwise(edges):
        some = [one for one in found if low <= one.right < high and not one.failed]
        if some:
            mean = sum(one.both for one in some) / len(some)
            right = sum(one.both >= 0.95 for one in some)
            rows.append(f"| {low:.0%} to {min(1.0, high):.0%} | {len(some)} | {mean:.1%} | {right} |")
    return "\n".join(rows)


def main() -> None:
    """Tries hosts and prints the tables."""
    began = time.perf_counter()
    kind, words = sys.argv[1], sys.argv[3:]
    found = outcomes(
        int(sys.argv[2]), held=kind == "held", fresh=kind == "fresh", made_up="made" in words, thin="thin" in words
    )
    print(table(found), "", reliability(found), "", f"{time.perf_counter() - began:.0f} s", sep="\n")


if __name__ == "__main__":
    main()
