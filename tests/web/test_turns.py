"""Crowds: who waits for whom, for how long, and what is not done for those who are gone. Over real sockets."""

import contextlib
import http.client
import json
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import uvicorn

from server.analytics.moment_types import Moment
from server.analytics.reception import Reception
from server.web import turns
from server.web.app import create_app, uvicorn_settings
from server.web.listening import WebOptions
from server.web.source import WeekBefore
from tests.web.test_half_open import answers, free_port, get, opened, until
from tests.web.web_fakes import WEEK, FakeSource

CROWD = 40


class SlowSource(FakeSource):
    """Takes its time over reception, and counts."""

    slow_s = 0.5
    begun = at_once = most = 0
    lock = threading.Lock()

    def reception(self, start_us: int, end_us: int) -> Reception:
        self._slowly()
        return super().reception(start_us, end_us)

    def weeks_before(self, start_us: int, n: int) -> Sequence[WeekBefore]:
        self._slowly()
        return super().weeks_before(start_us, n)

    def moment(self, at_us: int, wanted: str | None) -> Moment:
        self._slowly()
        return super().moment(at_us, wanted)

    def _slowly(self) -> None:
        with self.lock:
            self.begun += 1
            self.at_once += 1
            self.most = max(self.most, self.at_once)
        time.sleep(self.slow_s)
        with self.lock:
            self.at_once -= 1


def window(n: int) -> str:
    """Each another, so that no answer is kept already."""
    return f"from=2026-11-01T00:00:00.{n:06}&to=2026-11-22"


def asked(path: str) -> bytes:
    return f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode()


def reception(n: int) -> str:
    return f"/api/v1/reception?{window(n)}"


def moment(n: int) -> str:
    """Not kept, so that answers are made side by side."""
    return f"/api/v1/moment?at=2026-11-20T12:{n:02}"


def week(n: int) -> str:
    return f"/week/2025-W{n + 1:02}"


Served = Callable[[SlowSource], int]


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    started: list[tuple[uvicorn.Server, threading.Thread]] = []

    def serve(source: SlowSource) -> int:
        port = free_port()
        app = create_app(source, WebOptions(tmp_path, f"127.0.0.1:{port}"))
        server = uvicorn.Server(uvicorn.Config(app, **uvicorn_settings(WebOptions(tmp_path, f"127.0.0.1:{port}"))))
        thread = threading.Thread(target=server.run)
        thread.start()
        started.append((server, thread))
        until(lambda: server.started, 20, "the server did not start")
        return port

    yield serve
    for server, thread in started:
        server.should_exit = True
        thread.join(20)
        assert not thread.is_alive()


@contextlib.contextmanager
def crowd(port: int, path: Callable[[int], str] = reception) -> Iterator[list[socket.socket]]:
    there = [opened(port, asked(path(n))) for n in range(CROWD)]
    try:
        yield there
    finally:
        for one in there:
            one.close()


@pytest.mark.parametrize("path", [reception, moment, week])
def test_health_sign_in_and_the_style_sheet_do_not_wait_behind_a_crowd(
    served: Served, path: Callable[[int], str]
) -> None:
    source = SlowSource()
    port = served(source)
    with crowd(port, path):
        until(lambda: source.begun > 0, 10, "nothing was begun")
        for quick in ("/health", "/login", "/static/style.x.css"):
            began = time.monotonic()
            assert get(port, quick) in (200, 303, 404)
            assert time.monotonic() - began < 1, quick


def test_a_page_does_not_wait_behind_a_crowd_of_programs(served: Served) -> None:
    source = SlowSource()
    port = served(source)
    with crowd(port):
        until(lambda: source.begun > 0, 10, "nothing was begun")
        began = time.monotonic()
        assert get(port, f"/week/{WEEK}") == 200
        assert time.monotonic() - began < 2


def test_no_more_than_two_answers_for_programs_are_made_at_once(served: Served) -> None:
    source = SlowSource()
    port = served(source)
    with crowd(port, moment):
        until(lambda: source.begun > 6, 10, "nothing was begun")
    assert source.most == turns.PROGRAMS == 2


def test_a_program_that_waited_for_long_is_told_so_in_json_and_when_to_ask_again(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(turns, "PROGRAMS_WAIT_S", 1.0)

    def ask(n: int) -> tuple[int, str | None, object]:
        with contextlib.closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as connection:
            connection.request("GET", f"/api/v1/reception?{window(n)}")
            answer = connection.getresponse()
            return answer.status, answer.headers["Retry-After"], json.loads(answer.read())

    port = served(SlowSource())
    with ThreadPoolExecutor(20) as many:
        found = list(many.map(ask, range(20)))
    # 503 and Retry-After: RFC 9110, 15.6.4 and 10.2.3 (from memory).
    refused = [one for one in found if one[0] != 200]
    assert 0 < len(refused) < 20
    assert all(one == (503, str(turns.AGAIN_S), {"error": turns.BUSY}) for one in refused)
    assert get(port, f"/api/v1/reception?{window(99)}") == 200, "turns were lost"


def test_nothing_is_made_for_whoever_is_gone(served: Served) -> None:
    source = SlowSource()
    port = served(source)
    with crowd(port):
        until(lambda: source.begun > 0, 10, "nothing was begun")
    time.sleep(1)
    begun = source.begun
    assert begun <= 2 * turns.PROGRAMS + 2
    time.sleep(1.5)
    assert source.begun == begun
    assert get(port, f"/api/v1/reception?{window(99)}") == 200, "turns were lost"


def test_an_end_under_load_writes_no_traceback(tmp_path: Path) -> None:
    port = free_port()
    program = (
        "import uvicorn; from pathlib import Path; from tests.web.test_turns import SlowSource\n"
        "from server.web.app import create_app, uvicorn_settings; from server.web.listening import WebOptions\n"
        f"SlowSource.slow_s = 3.0; options = WebOptions(Path({str(tmp_path)!r}), '127.0.0.1:{port}')\n"
        "settings = {**uvicorn_settings(options), 'timeout_graceful_shutdown': 1}\n"
        "uvicorn.Server(uvicorn.Config(create_app(SlowSource(), options), **settings)).run()\n"
    )
    with (tmp_path / "said").open("wb") as said:
        process = subprocess.Popen([sys.executable, "-c", program], stdout=said, stderr=said)
    try:
        until(lambda: answers(port), 60, "the server did not start")
        with crowd(port):
            time.sleep(0.5)
            process.terminate()
            process.wait(20)
    finally:
        process.kill()
        process.wait()
    said_text = (tmp_path / "said").read_text()
    assert "Traceback" not in said_text and len(said_text.splitlines()) < 5, said_text[:3000]
