"""Faults of a whole `airtally serve`, in a process of its own, while a host writes and rotates."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

from tests.intake.faults import Attempt, fault

ROOT = Path(__file__).parents[2]


def _serve(attempt: Attempt) -> subprocess.Popen[str]:
    if not (text := attempt.folder.station_file.read_text()).endswith("# pages\n"):
        attempt.folder.station_file.write_text(f'{text}[web]\nlisten = "127.0.0.1:0"\n# pages\n')
    return subprocess.Popen(
        [sys.executable, "-m", "server.cli", "serve"], cwd=attempt.path, env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip


def _write_for(attempt: Attempt, seconds: float, rotations: list[int]) -> None:
    """A host at work."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        attempt.write("a.log", attempt.rng.randint(1, 30))
        if attempt.rng.random() < 0.2:
            rotations.append(1)
            (attempt.path / "a.log").rename(attempt.path / f"a.log.2026{1000 + len(rotations)}")
        time.sleep(attempt.rng.uniform(0, 0.1))


def _ended(attempt: Attempt, number: int) -> None:
    rotations: list[int] = []
    for _ in range(3):
        with _serve(attempt) as process:
            assert process.stdout is not None
            said = process.stdout.readline()
            attempt.check(said.startswith("Pages at http://"), f"serve did not begin: {said}")
            _write_for(attempt, attempt.rng.uniform(0, 1.5), rotations)
            process.send_signal(number)
            begun = time.monotonic()
            code = process.wait(30)
            rest = process.stdout.read()
        attempt.check(code == (0 if number != signal.SIGKILL else -number), f"serve ended with {code}")
        attempt.check(time.monotonic() - begun < 20 and not rest, f"serve did not end in order: {rest}")


@fault("`serve` killed at any instant while a host writes and rotates, begun again", short=1, full=5)
def killed(attempt: Attempt) -> None:
    _ended(attempt, signal.SIGKILL)


@fault("`serve` ended by SIGTERM at any instant while a host writes and rotates, begun again", short=1, full=5)
def asked_to_end(attempt: Attempt) -> None:
    _ended(attempt, signal.SIGTERM)


@fault("a second `serve` on one store", short=1, full=5)
def second_serve(attempt: Attempt) -> None:
    with _serve(attempt) as first:
        assert first.stdout is not None
        first.stdout.readline()
        attempt.write("a.log", 20)
        with _serve(attempt) as second:
            said = second.communicate(timeout=30)[0]
        attempt.check(second.returncode == 2 and f"(process {first.pid}, since 20" in said, f"the second serve: {said}")
        attempt.check(first.poll() is None, "the first serve ended")
        first.kill()
