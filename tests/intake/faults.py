"""Faults tried on purpose, many times over: how many lines each kind loses or doubles, and how many answers are
impossible.

A kind is a function that gets an `Attempt` (a station in a folder of its own, numbered lines to write, a clock) and
does its worst to it. Add one with `@fault("what is done", short=trials in the suite, full=trials in the long form)` in
a module named in `MODULES`; the short form runs in the suite (`test_faults.py`), the long one under `make bench`, which
writes the README's table."""

import random
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path

import sqlalchemy as sa

from server.intake.context import PassResult
from server.intake.ingest import Intake
from server.store import schema
from server.store.engine import reading
from tests.intake.conftest import T0, Folder, over_line

MODULES = (
    "tests.intake.faults_of_files",
    "tests.intake.faults_of_serve",
    "tests.intake.faults_of_identity",
)  #: where kinds are
BEGIN, END = "<!-- faults: written by python -m tests.benchmarks faults -->", "<!-- /faults -->"
SECONDS = 2.0  # of every over that is written


class Clock:
    """Steady seconds that the attempt sets."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


class Attempt:
    """One trial: what is written has a number each, which is to be stored exactly once."""

    def __init__(self, path: Path, rng: random.Random) -> None:
        self.rng, self.clock = rng, Clock()
        self.folder = Folder(path, ("*.log", "more/*.log"))
        (path / "more").mkdir()
        self.path = path
        self.expected: list[int] = []
        self.wrong: list[str] = []  #: answers that were wrong, in words
        self.troubles: list[str] = []  #: of the last pass
        self.restart()

    def lines(self, count: int) -> bytes:
        """The next `count` lines, to be written somewhere."""
        numbers = range(len(self.expected), len(self.expected) + count)
        self.expected += numbers
        return b"".join(over_line(number, seconds=SECONDS) for number in numbers)

    def write(self, name: str | bytes, count: int) -> None:
        """Append new lines to a file."""
        place = Path(self.path, name) if isinstance(name, str) else bytes(self.path) + b"/" + name
        with open(place, "ab") as file:
            file.write(self.lines(count))

    def restart(self) -> None:
        """A new process, as far as intake can tell."""
        self.intake = Intake(self.folder.engine, self.folder.station, block_bytes=2048, steady=self.clock)

    def look(self, seconds: float = 1.0, step_s: float | None = None) -> PassResult:
        """Some time passes, and intake makes a pass."""
        self.clock.now += seconds
        caught = self.intake.catch_up(lambda _count, _path: self._pass_time(), step_s=step_s)
        self.troubles = caught.troubles
        return caught

    def _pass_time(self) -> None:
        self.clock.now += 0.05

    def check(self, holds: bool, says: str) -> None:
        """Count an answer as impossible where it does not hold."""
        if not holds:
            self.wrong.append(says)

    def settle(self) -> None:
        """The fault has passed: whatever waits is tried again."""
        for _ in range(3):
            while self.look(400.0).more:
                pass
        self.check(not self.troubles, f"trouble is still told after it passed: {self.troubles}")

    def close(self) -> None:
        self.intake.close()
        self.folder.close()


@dataclass(frozen=True)
class Outcome:
    """What one trial, or all of a kind, came to."""

    trials: int = 0
    lines: int = 0
    lost: int = 0
    doubled: int = 0
    impossible: int = 0
    wrong: tuple[str, ...] = ()  #: the impossible answers, in words

    def __add__(self, other: "Outcome") -> "Outcome":
        return Outcome(
            self.trials + other.trials, self.lines + other.lines, self.lost + other.lost, self.doubled + other.doubled,
            self.impossible + other.impossible, (*self.wrong, *other.wrong)[:5],
        )  # fmt: skip


Play = Callable[[Attempt], None]


@dataclass(frozen=True)
class Kind:
    """A kind of fault."""

    name: str
    play: Play = field(compare=False)
    short: int
    full: int


_KINDS: list[Kind] = []


def fault(name: str, short: int = 3, full: int = 30) -> Callable[[Play], Play]:
    """Adds a kind of fault; `name` is its row's first cell."""

    def add(play: Play) -> Play:
        _KINDS.append(Kind(name, play, short, full))
        return play

    return add


def kinds() -> Sequence[Kind]:
    """All kinds, in the order of their modules."""
    for module in MODULES:
        import_module(module)
    return _KINDS


def outcome_of(attempt: Attempt) -> Outcome:
    """What is stored, against what was written."""
    over = schema.over
    with reading(attempt.folder.engine) as connection:
        rows = connection.execute(sa.select(over.c.target, over.c.start, over.c.end)).all()
        unread = connection.execute(sa.select(sa.func.coalesce(sa.func.sum(schema.log.c.unread), 0))).scalar_one()
    right = Counter(int(row.target) for row in rows if (row.start, row.end) == _span(int(row.target)))
    written = set(attempt.expected)
    invented = sum(times for number, times in right.items() if number not in written)
    impossible = len(rows) - right.total() + invented + unread + len(attempt.wrong)
    return Outcome(
        trials=1,
        lines=len(attempt.expected),
        lost=sum(number not in right for number in written),
        doubled=sum(times - 1 for times in right.values()),
        impossible=impossible,
        wrong=tuple(attempt.wrong),
    )


def _span(number: int) -> tuple[int, int]:
    return (T0 + number) * 1_000_000, round((T0 + number + SECONDS) * 1_000_000)


def try_fault(kind: Kind, trials: int, seed: int) -> Outcome:
    """Play a kind of fault so many times, each with chances of its own."""
    total = Outcome()
    for trial in range(trials):
        place = Path(tempfile.mkdtemp(prefix="airtally-fault-"))
        attempt = Attempt(place, random.Random(f"{kind.name} {seed} {trial}"))
        try:
            kind.play(attempt)
            attempt.settle()
            total += outcome_of(attempt)
        finally:
            attempt.close()
            shutil.rmtree(place, ignore_errors=True)
    return total


def table(outcomes: dict[str, Outcome]) -> str:
    """The outcomes as the README shows them."""
    rows = [
        f"| {name} | {o.trials:,} | {o.lines:,} | {o.lost:,} | {o.doubled:,} | {o.impossible:,} |"
        for name, o in outcomes.items()
    ]
    head = ["| fault | trials | lines | lost | doubled | impossible |", "| --- | ---: | ---: | ---: | ---: | ---: |"]
    return "\n".join(head + rows)


def write_into(readme: Path, text: str) -> None:
    """Put the table between its marks in the README."""
    whole = readme.read_text(encoding="utf-8")
    before, _, rest = whole.partition(BEGIN)
    _, _, after = rest.partition(END)
    readme.write_text(f"{before}{BEGIN}\n{text}\n{END}{after}", encoding="utf-8")
