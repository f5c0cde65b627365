"""Connections that come in halves, slowly or in crowds: pages answer, lines are stored, the log stays short. Over real
sockets on loopback.
"""

import contextlib
import datetime as dt
import http.client
import json
import logging
import os
import resource
import selectors
import socket
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import uvicorn

from server.web import deadlines
from server.web.app import create_app, uvicorn_settings
from server.web.deadlines import OnceAMinute
from server.web.listening import WebOptions
from tests.web.web_fakes import WEEK, FakeSource

CROWD = 1100
HEAD = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: "


def until(good: Callable[[], bool], seconds: float, what: str) -> None:
    end = time.monotonic() + seconds
    while not good():
        assert time.monotonic() < end, what
        time.sleep(0.05)


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def get(port: int, path: str, timeout: float = 10.0) -> int:
    with contextlib.closing(http.client.HTTPConnection("127.0.0.1", port, timeout=timeout)) as asked:
        asked.request("GET", path)
        answer = asked.getresponse()
        answer.read()
        return answer.status


def answers(port: int) -> bool:
    with contextlib.suppress(OSError):
        return get(port, "/health") == 200
    return False


def opened(port: int, said: bytes) -> socket.socket:
    made = socket.create_connection(("127.0.0.1", port), timeout=10)
    made.sendall(said)
    return made


def closed_by_other(made: socket.socket, seconds: float) -> bytes | None:
    """What came until the other side closed; None where it is still open after so many seconds."""
    made.settimeout(seconds)
    came = b""
    try:
        while piece := made.recv(65536):
            came += piece
    except TimeoutError:
        return None
    except ConnectionResetError:
        pass
    return came


def activity(n: int) -> str:
    t = dt.datetime(2026, 11, 16, 12, tzinfo=dt.UTC) + dt.timedelta(seconds=60 * n)
    return json.dumps({"t": t.isoformat(), "event": "over", "mode": "fm", "seconds": 3, "station": "QA1XYZ"}) + "\n"


@pytest.fixture
def station(tmp_path: Path) -> Iterator[tuple[int, Path, subprocess.Popen[bytes]]]:
    """`airtally serve` with the files that a service may usually open: its port, folder and process."""
    port = free_port()
    (tmp_path / "host.log").write_text(activity(0))
    (tmp_path / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\n[[log]]\npath = "host.log"\ndialect = "activity"\n'
        + f'[web]\nlisten = "127.0.0.1:{port}"\n'
    )
    command = [sys.executable, "-m", "server.cli", "serve", "--station", str(tmp_path / "station.toml")]
    with (tmp_path / "said").open("wb") as said:
        process = subprocess.Popen(
            command,
            stdout=said,
            stderr=said,
            preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (1024, 1024)),
        )
    try:
        until(lambda: answers(port), 60, "serve did not start")
        yield port, tmp_path, process
    finally:
        process.kill()
        process.wait()


def lines_stored(folder: Path) -> int:
    with contextlib.closing(sqlite3.connect(folder / "airtally.db", timeout=10)) as store:
        return int(store.execute("select coalesce(sum(lines), 0) from log").fetchone()[0])


def test_with_1100_half_open_connections_pages_answer_and_lines_are_stored(
    station: tuple[int, Path, subprocess.Popen[bytes]],
) -> None:
    port, folder, process = station
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, CROWD + 500), hard))
    crowd = [opened(port, HEAD if n % 2 else b"") for n in range(CROWD)]
    try:
        times = []
        for path in ("/health", f"/week/{WEEK}", "/intake", "/definitions"):
            began = time.monotonic()
            assert get(port, path) == 200
            times.append(time.monotonic() - began)
        assert max(times) < 5
        with (folder / "host.log").open("a") as log:
            log.write("".join(map(activity, range(1, 51))))
        until(lambda: lines_stored(folder) == 51, 30, "lines were not stored")
        assert len(os.listdir(f"/proc/{process.pid}/fd")) < 512
        assert process.poll() is None
        said = (folder / "said").read_text()
        assert "Traceback" not in said and len(said.splitlines()) < 10, said
    finally:
        for one in crowd:
            one.close()


Serve = Callable[..., int]


@pytest.fixture
def serve(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Serve]:
    """Serves the fake source with quick deadlines; gives its port."""
    started: list[tuple[uvicorn.Server, threading.Thread]] = []

    def served(**settings: float) -> int:
        for name, value in {"HEAD_S": 1.5, "SLOW_S": 1.5, "LOOK_S": 0.1, **settings}.items():
            monkeypatch.setattr(deadlines, name, value)
        port = free_port()
        options = WebOptions(tmp_path, f"127.0.0.1:{port}")
        server = uvicorn.Server(uvicorn.Config(create_app(FakeSource(), options), **uvicorn_settings(options)))
        thread = threading.Thread(target=server.run)
        thread.start()
        started.append((server, thread))
        until(lambda: server.started, 20, "the server did not start")
        return port

    yield served
    for server, thread in started:
        server.should_exit = True
        thread.join(20)
        assert not thread.is_alive()


@pytest.mark.parametrize(
    "said, answer",
    [
        (b"", b""),
        (HEAD, b"HTTP/1.1 408"),
        (b"POST /login HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 500\r\n\r\ntoken=", b"HTTP/1.1 408"),
        (b"POST /login HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding: chunked\r\n\r\n5\r\ntok", b"HTTP/1.1 408"),
    ],
)
def test_a_head_or_a_body_that_does_not_come_is_given_up_in_time(
    serve: Serve, said: bytes, answer: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    # 408 Request Timeout: RFC 9110, 15.5.9 (from memory).
    with contextlib.closing(opened(serve(), said)) as made:
        came = closed_by_other(made, 6)
    assert came is not None and came.startswith(answer) and bool(came) == bool(answer)
    assert not caplog.records


def test_a_head_that_comes_letter_by_letter_is_given_up_in_time(serve: Serve) -> None:
    with contextlib.closing(opened(serve(), HEAD)) as made:
        began = time.monotonic()
        with pytest.raises(OSError):
            while time.monotonic() - began < 10:
                made.sendall(b"x")
                time.sleep(0.05)
        assert time.monotonic() - began < 6


def test_a_body_that_comes_fast_enough_has_its_time(serve: Serve) -> None:
    # 24 pieces of 512 bytes in about 2.4 s: longer than the bare limit, above the least speed.
    body = b"token=" + b"x" * 6000
    with contextlib.closing(
        opened(
            serve(SLOWEST=1024), b"POST /login HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: %d\r\n\r\n" % len(body)
        )
    ) as made:
        for at in range(0, len(body), 256):
            made.sendall(body[at : at + 256])
            time.sleep(0.1)
        assert made.recv(64).startswith(b"HTTP/1.1 400")


def test_an_answer_that_nobody_takes_is_given_up_in_time(serve: Serve) -> None:
    port = serve(SLOWEST=1 << 20)
    with socket.socket() as made:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        made.connect(("127.0.0.1", port))
        for _ in range(60):  # more than the buffers of both sides hold
            made.sendall(b"GET /definitions HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        time.sleep(4)
        assert closed_by_other(made, 6) is not None
    assert get(port, "/health") == 200


def test_the_oldest_that_asks_nothing_makes_room_and_who_is_served_stays(
    serve: Serve, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(deadlines, "most_connections", lambda: 20)
    port = serve(HEAD_S=60.0, SLOW_S=60.0)
    head = b"POST /login HTTP/1.1\r\nHost: 127.0.0.1\r\nExpect: 100-continue\r\nContent-Length: 100\r\n\r\n"
    with contextlib.closing(opened(port, head)) as keeper:
        assert keeper.recv(64).startswith(b"HTTP/1.1 100")  # RFC 9110, 15.2.1 (from memory): the body is waited for
        crowd = [opened(port, b"") for _ in range(60)]
        with selectors.DefaultSelector() as selector:
            for number, one in enumerate(crowd):
                selector.register(one, selectors.EVENT_READ, number)
            until(lambda: len(selector.select(0)) >= 41, 10, "the crowd is still there")
            gone = {key.data for key, _ in selector.select(0)}
        for one in crowd:
            one.close()
        assert gone == set(range(41)), "the oldest go first"
        keeper.sendall(b"x" * 100)
        assert keeper.recv(64).startswith(b"HTTP/1.1 400")


def test_what_can_be_said_without_end_is_said_once_a_minute() -> None:
    said = OnceAMinute(every_s=0.2)
    record = logging.LogRecord("x", logging.WARNING, "", 0, "Invalid HTTP request received.", None, None)
    other = logging.LogRecord("x", logging.WARNING, "", 0, "Something else.", None, None)
    assert [said.filter(record), said.filter(record), said.filter(other)] == [True, False, True]
    time.sleep(0.25)
    assert said.filter(record)


def test_a_crowd_beyond_the_open_files_is_told_in_a_few_lines(tmp_path: Path) -> None:
    """The server may open so few files that even its own limit can't be kept: accept fails, and the log stays short."""
    port = free_port()
    program = (
        "import resource, sys; from pathlib import Path\nimport uvicorn; from tests.web.web_fakes"
        " import FakeSource; from server.web.app import create_app, uvicorn_settings\nfrom server.web.listening import"
        " WebOptions; from server.web import deadlines; import os\ndeadlines.most_connections = lambda:"
        f" 10_000\noptions = WebOptions(Path({str(tmp_path)!r}), '127.0.0.1:{port}')\nserver ="
        " uvicorn.Server(uvicorn.Config(create_app(FakeSource(), options), **uvicorn_settings(options)))\nfew ="
        " len(os.listdir('/proc/self/fd')) + 40; resource.setrlimit(resource.RLIMIT_NOFILE, (few, few));"
        " server.run()\n"
    )
    with (tmp_path / "said").open("wb") as said:
        process = subprocess.Popen([sys.executable, "-c", program], stdout=said, stderr=said)
    crowd: list[socket.socket] = []
    try:
        until(lambda: answers(port), 60, "the server did not start")
        crowd = [opened(port, HEAD) for _ in range(90)]
        time.sleep(3)
        told = (tmp_path / "said").read_text()
        assert "No more connections can be taken" in told and len(told.splitlines()) <= 3, told[:2000]
        for one in crowd:
            one.close()
        until(lambda: get(port, "/health") == 200, 10, "no answer after the crowd had gone")
    finally:
        for one in crowd:
            one.close()
        process.kill()
        process.wait()
