"""How well `adopt` learns: invented hosts with known truth, public logs of ordinary software, and a million lines
against the clock.

The public logs are read from the folder that AIRTALLY_PUBLIC_LOGS names; without it their part is left out, and the
result says so."""

import csv
import os
import re
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path

import pytest

from parsers.adopt.grouping import group_lines
from parsers.adopt.stampfind import find_stamping
from parsers.adopt.tokens import tokens
from tests.adopt.hands_seen import SEEN
from tests.adopt.test_learning import LOOKED_AT_LATER, UNSEEN, adopted
from tests.benchmarks.biglog import write_biglog

FOLDER = "AIRTALLY_PUBLIC_LOGS"
#: grouping accuracy published for Drain by the authors of the benchmark (Zhu et al., ICSE-SEIP 2019; README of
#: logpai/logparser, folder Drain)
PUBLISHED = {"Linux": 0.690, "OpenSSH": 0.7875, "Apache": 1.000, "Mac": 0.7865, "HealthApp": 0.780, "Proxifier": 0.5265}
NOW_US = 1_790_000_000_000_000
MOST_S, MOST_KB = 60.0, 1 << 20
#: prints the peak memory of the process, kB
COMMAND = (
    "import resource, sys; from server.cli import main\ntry:\n    main()\nfinally:\n   "
    " print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, file=sys.stderr)"
)


def run(full: bool) -> str:
    """The section of the report."""
    parts = [hands(7 if full else 2), public_logs(), speed(1_000_000 if full else 100_000)]
    return "## adopt\n\n" + "\n\n".join(parts)


def hands(days: int) -> str:
    """A row a hand: shares of the true overs."""
    rows = [
        "| host | looked at while tuning | overs | found | mode | slot | side | station | duration | mode and duration"
        " | never were | coverage | the reading says |"
    ]
    rows.append("| --- " * 13 + "|")
    for seen, group in (("yes", SEEN), ("after its first run", LOOKED_AT_LATER), ("no", UNSEEN)):
        for hand in group:
            made, found = adopted(hand, days)
            shares = (
                found.found,
                found.mode,
                found.slot,
                found.side,
                found.station,
                found.duration,
                found.mode_and_duration,
                found.extra,
                made.fit.coverage,
            )
            shown = " | ".join(f"{share:.2%}" for share in shares)
            rows.append(
                f"| {hand.name} | {seen} | {found.overs} | {shown} | {'poor' if made.account.poor else 'good'} |"
            )
    return f"### Invented hosts, {days} days of one traffic\n\n" + "\n".join(rows)


def public_logs() -> str:
    """Grouping accuracy and stamps on public sample logs."""
    folder = os.environ.get(FOLDER)
    if not folder:
        return f"### Public logs\n\nLeft out: {FOLDER} does not name their folder."
    rows = [
        "| log | grouping accuracy | published for Drain | groups | published groups | lines with a stamp found |",
        "| --- " * 6 + "|",
    ]
    for name, published in PUBLISHED.items():
        accuracy, groups, of = grouping_accuracy(Path(folder) / f"{name}_2k.log_structured.csv")
        stamped, lines = stamps_found(Path(folder) / f"{name}_2k.log")
        rows.append(f"| {name} | {accuracy:.4f} | {published:.4f} | {groups} | {of} | {stamped} of {lines} |")
    return "### Public logs of ordinary software (Loghub, 2,000 lines each)\n\n" + "\n".join(rows)


def grouping_accuracy(path: Path) -> tuple[float, int, int]:
    """A line counts where its group is exactly the published group; also how many groups there are, and how many
    published.
    """
    with path.open(encoding="utf-8", errors="replace") as file:
        rows = list(csv.DictReader(file))
    groups = group_lines([tokens(row["Content"]) for row in rows])
    published: dict[str, set[int]] = defaultdict(set)
    for at, row in enumerate(rows):
        published[row["EventId"]].add(at)
    exact = {frozenset(members) for members in published.values()}
    right = sum(len(group.rows) for group in groups if frozenset(group.rows) in exact)
    return right / len(rows), len(groups), len(published)


def stamps_found(path: Path) -> tuple[int, int]:
    """In how many lines of a log a stamp is found, and how many lines there are; every line of these logs has one."""
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    stamping = find_stamping(lines, NOW_US)
    return (sum(bool(re.search(stamping.spelling, line)) for line in lines) if stamping else 0), len(lines)


def speed(lines: int) -> str:
    """The command itself on a big log, in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "big.log"
        written = write_biglog(log, lines)
        began = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-c", COMMAND, "adopt", str(log), "--yes", "--out", str(Path(folder) / "big.toml")],
            capture_output=True,
            text=True,
            cwd=Path(__file__).parents[2],
            check=False,
        )
        took = time.perf_counter() - began
    assert done.returncode == 0, done.stderr
    peak_kb = int(done.stderr.split()[-1])
    assert f"Overs: {written.overs};" in done.stdout, done.stdout
    assert took < MOST_S and peak_kb < MOST_KB
    return (
        f"### Speed\n\n{lines} lines adopted in {took:.1f} s with {peak_kb / 1024:.0f} MB at most; every one of the"
        f" {written.overs} overs came out."
    )


@pytest.mark.bench
def test_a_hundred_thousand_lines_are_adopted_in_seconds() -> None:
    assert "every one" in speed(100_000)


@pytest.mark.bench
def test_stamps_are_found_on_every_line_of_the_public_logs() -> None:
    folder = os.environ.get(FOLDER)
    if not folder:
        pytest.skip(f"{FOLDER} does not name the folder of the public logs")
    for name in PUBLISHED:
        stamped, lines = stamps_found(Path(folder) / f"{name}_2k.log")
        assert stamped == lines == 2000, name
