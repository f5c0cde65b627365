"""Workers under one supervisor: whatever a round raises is told once and tried again; what ends or hangs is seen by
health.
"""

import threading
import time
from collections.abc import Callable

import pytest

from server.service import BACK_OFF_S, Health, Supervisor, Worker, in_words
from shared.errors import StoreError


class Steady:
    """A clock that the test sets, in seconds."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def until(true: Callable[[], bool], seconds: float = 10.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.002)


class Panic(BaseException):
    """What a library written in another language raises."""


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("server.service.BACK_OFF_S", (0.001,) * len(BACK_OFF_S))


@pytest.mark.parametrize(
    "error",
    [
        ValueError("x"),
        OSError(5, "Input/output error", "/a"),
        MemoryError(),
        RecursionError("deep"),
        Panic("p"),
        SystemExit(3),
        StoreError("s"),
    ],
    ids=lambda error: type(error).__name__,
)
def test_a_round_that_raises_anything_is_told_once_and_tried_again_and_said_to_be_well_after(
    quick: None, error: BaseException
) -> None:
    told: list[str] = []
    fails = [error] * 5

    def make_round() -> float:
        if fails:
            raise fails.pop()
        return 60.0

    worker = Worker("intake", "Reading the logs", make_round, 60.0)
    worker.tell = told.append
    worker.start()
    until(lambda: worker.rounds == 1)
    assert len(told) == 2 and told[1] == "Reading the logs works again; nothing was left out."
    assert worker.fault() is None
    assert worker.stop(5)


def test_while_it_fails_health_says_so_without_what_it_met(quick: None) -> None:
    def make_round() -> float:
        raise StoreError("/srv/secret.db: is locked")

    supervisor = Supervisor()
    supervisor.add(Worker("intake", "Reading the logs", make_round, 60.0))
    assert supervisor.health().says == "Reading the logs has not begun yet."
    supervisor.start()
    until(lambda: "fails" in supervisor.health().says)
    (fault,) = supervisor.health().faults
    assert fault.says == "Reading the logs fails, and is tried again." and fault.why == "/srv/secret.db: is locked"
    assert supervisor.stop(5) == []


def test_a_worker_that_gives_no_sign_of_life_is_seen_and_one_whose_long_round_moves_is_well() -> None:
    steady, hold, moved = Steady(), threading.Event(), threading.Event()

    def make_round() -> float:
        moved.set()
        hold.wait(10)
        return 5.0

    worker = Worker("watch", "Watching the rules", make_round, 60.0, steady=steady)
    worker.start()
    assert moved.wait(5)
    steady.now += 59
    assert worker.fault() is not None and "has not made its first round yet" in worker.fault().says  # type: ignore[union-attr]
    steady.now += 2
    assert worker.fault() is not None and "no sign of life for over 60 s" in worker.fault().says  # type: ignore[union-attr]
    worker.sign_of_life()
    assert worker.fault() is None
    hold.set()
    until(lambda: worker.rounds == 1)
    steady.now += 64  # the wait that it announced, and the longest time after it
    assert worker.fault() is None
    steady.now += 2
    assert worker.fault() is not None
    assert worker.stop(5)


def test_a_thread_that_has_ended_is_seen() -> None:
    worker = Worker("outbox", "Sending notices", lambda: 60.0, 60.0)
    worker.start()
    assert worker.stop(5)
    assert worker.fault() is not None and "has ended" in worker.fault().says  # type: ignore[union-attr]


def test_a_failing_round_waits_longer_and_longer_and_a_wake_does_not_hurry_it() -> None:
    waits: list[float] = []
    worker = Worker("intake", "Reading the logs", lambda: 1 / 0, 60.0)
    worker.tell = lambda _: None
    worker._stopping.wait = lambda timeout=None: waits.append(timeout) or (len(waits) > 6 and worker.ask_to_stop())  # type: ignore[method-assign,assignment,func-returns-value,return-value]
    worker.wake()
    worker._run()
    assert waits == [1.0, 2.0, 5.0, 15.0, 60.0, 60.0, 60.0]


def test_all_are_asked_to_stop_at_once_and_one_that_hangs_is_named_in_time() -> None:
    hold = threading.Event()
    slow = Worker("report", "Mailing the report", lambda: float(hold.wait(30)), 60.0)
    quick = [Worker("watch", "Watching the rules", lambda: 60.0, 60.0) for _ in range(3)]
    supervisor = Supervisor()
    supervisor.add(slow, *quick)
    supervisor.start()
    begun = time.monotonic()
    assert supervisor.stop(0.5) == ["report"]
    assert time.monotonic() - begun < 3
    assert all(not worker._thread.is_alive() for worker in quick)
    hold.set()
    assert slow.stop(5)


def test_a_store_that_can_not_be_read_is_a_fault_whatever_it_raises() -> None:
    def is_read() -> None:
        raise RuntimeError("postgresql://keeper:secret@db/airtally went away")

    health = Supervisor(is_read).health()
    assert not health.is_well and health.says == "The store can't be read."
    assert "secret" not in health.faults[0].why
    assert Supervisor().health() == Health() and Health().is_well


def test_an_error_of_the_system_names_the_file_and_one_that_nobody_foresaw_is_called_a_defect() -> None:
    assert (
        in_words(OSError(13, "Permission denied", "/var/log/x"), "Reading the logs")
        == "/var/log/x: Permission denied (Reading the logs)."
    )
    assert (
        in_words(KeyError("a"), "Reading the logs") == "Reading the logs met a defect of airtally's own: KeyError: 'a'."
    )


def test_what_several_workers_meet_is_told_once(quick: None, capsys: pytest.CaptureFixture[str]) -> None:
    def make_round() -> float:
        raise StoreError("/srv/airtally.db: is locked\x1b[31m")

    supervisor = Supervisor()
    supervisor.add(*(Worker(part, part, make_round, 60.0) for part in ("intake", "watch", "outbox")))
    supervisor.start()
    until(lambda: supervisor.health().says.count("fails") == 3)
    time.sleep(0.05)
    supervisor.stop(5)
    said = capsys.readouterr().err.splitlines()
    assert 1 <= len(said) < 3 and set(said) == {r"airtally: /srv/airtally.db: is locked\x1b[31m"}


def test_the_part_that_asks_is_left_out() -> None:
    supervisor = Supervisor()
    supervisor.add(Worker("heartbeat", "The heartbeat", lambda: 1.0, 60.0))
    assert supervisor.health("heartbeat").is_well and not supervisor.health().is_well
