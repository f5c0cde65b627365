"""`airtally serve` as a process: one on a store, an end in order, a health that is asked from outside."""

import datetime as dt
import http.server
import json
import os
import re
import shutil
import signal
import sqlite3
import stat
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.store import schema
from server.store.engine import close_store, open_store, reading, writing
from server.store.facts import set_fact
from server.store.serving import Serving, claim_serving
from shared.errors import StoreSettingError
from tests.alerts.hill import append, line, station_in, until

ROOT = Path(__file__).parents[2]
WEB = '[web]\nlisten = "127.0.0.1:0"\n'


class Served:
    """A serve in a process of its own."""

    def __init__(self, folder: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "server.cli", "serve"], cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert self.process.stdout is not None
        self.address = ""
        self.said: str | None = None
        found = re.search(r"http://\S+", self.process.stdout.readline())
        if found:
            self.address = found[0]

    def health(self) -> tuple[int, str]:
        try:
            with urllib.request.urlopen(self.address + "health", timeout=10) as answer:
                return answer.status, json.load(answer)["status"]
        except urllib.error.HTTPError as error:
            with error:
                return error.code, json.load(error)["status"]
        except urllib.error.URLError:  # not yet
            return 0, ""

    def end(self, number: int = signal.SIGTERM, within: float = 25) -> tuple[int, float]:
        """Exit code, and seconds until then."""
        begun = time.monotonic()
        self.process.send_signal(number)
        return self.process.wait(within), time.monotonic() - begun

    def close(self) -> str:
        """What it said on standard error."""
        if self.process.poll() is None:
            self.process.kill()
        if self.said is None:
            self.said = self.process.communicate(timeout=10)[1]
        return self.said


Serve = Callable[[], Served]


@pytest.fixture
def serve(tmp_path: Path) -> Iterator[Callable[[], Served]]:
    begun: list[Served] = []

    def started() -> Served:
        begun.append(Served(tmp_path))
        return begun[-1]

    yield started
    for one in begun:
        if one.process.poll() is None:
            one.process.kill()
        one.close()


@pytest.fixture
def slow_hook() -> Iterator[tuple[str, list[float], list[float]]]:
    """A receiver that takes 3 s to answer: its address, when something came, when it was answered."""
    came: list[float] = []
    answered: list[float] = []

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            came.append(time.monotonic())
            self.rfile.read(int(self.headers["Content-Length"]))
            time.sleep(3)
            self.send_response(200)
            self.end_headers()
            answered.append(time.monotonic())

        def log_message(self, *_: object) -> None:
            pass

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"json://127.0.0.1:{server.server_port}/", came, answered
        server.shutdown()
        thread.join()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT], ids=["SIGTERM", "SIGINT"])
def test_a_signal_lets_what_is_being_sent_be_finished_and_ends_with_0_within_20_s(
    tmp_path: Path, serve: Serve, slow_hook: tuple[str, list[float], list[float]], number: int
) -> None:
    url, came, answered = slow_hook
    station = station_in(tmp_path, [url], WEB)
    append(tmp_path, line(time.time_ns() // 1000 - 300_000_000, "over-start", mode="dstar", side="air"))
    served = serve()
    until(lambda: bool(came), 40)
    code, seconds = served.end(number)
    assert (code, served.close()) == (0, "") and seconds < 20
    assert len(came) == len(answered) == 1
    engine = open_store(station.store_url())
    with reading(engine) as connection:
        assert connection.execute(sa.select(schema.delivery.c.state, schema.delivery.c.tries)).all() == [("sent", 1)]
    engine.dispose()


def test_the_one_file_is_the_whole_store_after_serve_was_ended_and_after_every_command(
    tmp_path: Path, serve: Serve
) -> None:
    station_in(tmp_path, [], WEB)
    now = time.time_ns() // 1000
    append(
        tmp_path, *(line(now - n * 1_000_000, "over", mode="dstar", side="air", seconds=1) for n in range(300, 0, -1))
    )
    served = serve()
    until(lambda: served.health() == (200, "ok"), 20)
    until(lambda: _overs_in(tmp_path / "airtally.db") == 300, 20)
    urllib.request.urlopen(served.address + "intake", timeout=20).close()
    assert served.end()[0] == 0
    assert _overs_of_the_file_alone(tmp_path) == 300
    append(tmp_path, line(now, "over", mode="dstar", side="air", seconds=1))
    for command in (["ingest"], ["figures", "--week", "2026-W01"], ["alerts"]):
        arguments = [sys.executable, "-m", "server.cli", *command]
        subprocess.run(arguments, cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True)
        assert _overs_of_the_file_alone(tmp_path) == 301


@pytest.mark.parametrize("command", ["ingest", "serve"])
def test_a_signal_before_the_pages_are_there_or_while_lines_are_read_leaves_one_whole_file(
    tmp_path: Path, command: str
) -> None:
    station_in(tmp_path, [], WEB)
    now = time.time_ns() // 1000
    stamps = range(now - 20_000_000_000, now, 1_000_000)
    append(tmp_path, *(line(at, "over", mode="dstar", side="air", seconds=0.5) for at in stamps))
    close_store(open_store(f"sqlite:///{tmp_path / 'airtally.db'}"))
    process = subprocess.Popen(
        [sys.executable, "-m", "server.cli", command], cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    until((tmp_path / "airtally.db-wal").exists, 20)  # it has opened the store
    process.send_signal(signal.SIGTERM)
    said = process.communicate(timeout=25)[1]
    assert process.returncode in (0, 128 + signal.SIGTERM) and said == ""
    assert _overs_of_the_file_alone(tmp_path) in (0, len(stamps))


def _overs_in(file: Path) -> int:
    with closing(sqlite3.connect(file)) as connection:
        return int(connection.execute("SELECT count(*) FROM over").fetchone()[0])


def _overs_of_the_file_alone(folder: Path) -> int:
    """What a copy of the one file holds, as a keeper makes it before an update."""
    waiting = folder / "airtally.db-wal"
    assert not waiting.exists() or waiting.stat().st_size == 0
    (folder / "copy").mkdir(exist_ok=True)
    return _overs_in(Path(shutil.copy(folder / "airtally.db", folder / "copy" / "before.db")))


def test_a_signal_lets_the_months_report_be_finished(
    tmp_path: Path, serve: Serve, slow_hook: tuple[str, list[float], list[float]]
) -> None:
    url, came, answered = slow_hook
    station = station_in(tmp_path, [], f"{WEB}[report]\nmail = {json.dumps([url, url + 'two'])}\n")
    month = (dt.datetime.now(dt.UTC).replace(day=1) - dt.timedelta(days=20)).replace(hour=12)
    append(tmp_path, line(int(month.timestamp()) * 1_000_000, "over", mode="dstar", side="air", seconds=5))
    engine = open_store(station.store_url())
    with writing(engine) as connection:
        set_fact(connection, "report.next", f"{month:%Y-%m}")
    served = serve()
    until(lambda: bool(came), 60)
    code, seconds = served.end()
    assert (code, served.close()) == (0, "") and seconds < 20
    assert len(came) == len(answered) == 1
    with reading(engine) as connection:
        states = (
            connection.execute(sa.select(schema.fact.c.value).where(schema.fact.c.name.like("report %")))
            .scalars()
            .all()
        )
    engine.dispose()
    assert states == ["sent"]  # the second address waits for the next start


def test_a_second_serve_is_refused_with_a_sentence_that_names_the_first_and_is_let_in_after_a_crash(
    tmp_path: Path, serve: Serve
) -> None:
    station_in(tmp_path, [], WEB)
    first = serve()
    second = serve()
    assert second.process.wait(20) == 2
    said = second.close()
    assert f"another `airtally serve` serves this store already (process {first.process.pid}, since 20" in said
    assert f"pages at {first.address}" in said and said.count("\n") == 1
    ingest = subprocess.run(
        [sys.executable, "-m", "server.cli", "ingest"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
    )
    assert ingest.returncode == 0
    assert stat.S_IMODE((tmp_path / "airtally.db.serving").stat().st_mode) == 0o600
    first.process.kill()
    first.close()
    third = serve()
    assert third.address
    assert third.end()[0] == 0
    third.close()


def test_health_is_200_while_all_make_their_rounds_and_503_with_what_does_not(tmp_path: Path, serve: Serve) -> None:
    station_in(tmp_path, [], WEB)
    served = serve()
    until(lambda: served.health() == (200, "ok"), 20)
    holder = sqlite3.connect(tmp_path / "airtally.db", isolation_level=None)
    holder.execute("DROP TABLE fact")
    until(lambda: served.health()[0] == 503, 20)
    until(lambda: "Reading the logs fails, and is tried again." in served.health()[1], 20)
    said = served.health()[1]
    assert "The store can't be read." in said and str(tmp_path) not in said
    holder.close()
    assert served.end()[0] == 0
    assert "no such table: fact" in served.close()


def test_a_claim_on_a_file_that_is_not_ours_is_refused_and_the_file_is_not_touched(tmp_path: Path) -> None:
    engine = open_store(f"sqlite:///{tmp_path / 'airtally.db'}")
    other = tmp_path / "precious"
    other.write_text("precious")
    for make in (lambda at: at.symlink_to(other), lambda at: at.hardlink_to(other), os.mkfifo, Path.mkdir):
        place = tmp_path / "airtally.db.serving"
        make(place)
        with pytest.raises(StoreSettingError, match=r"serves the store\. Move it away"):
            claim_serving(engine)
        place.rmdir() if place.is_dir() and not place.is_symlink() else place.unlink()
    assert other.read_text() == "precious"
    claim = claim_serving(engine)
    claim.say(Serving(1, "2026-11-27 18:00", "http://127.0.0.1:8087/"))
    claim.close()
    claim_serving(engine).close()
    engine.dispose()


def test_a_store_that_vanishes_or_is_replaced_under_serve_is_told_and_nothing_is_written_into_it(
    tmp_path: Path, serve: Serve
) -> None:
    station_in(tmp_path, [], WEB)
    served = serve()
    until(lambda: served.health() == (200, "ok"), 20)
    store = tmp_path / "airtally.db"
    shutil.copy(store, tmp_path / "another.db")
    store.unlink()
    until(lambda: served.health()[0] == 503, 20)
    assert "The store can't be read." in served.health()[1]
    (tmp_path / "another.db").rename(store)
    before = store.read_bytes()
    append(tmp_path, line(time.time_ns() // 1000, "over", mode="dstar", side="air", seconds=1))
    until(lambda: "Reading the logs fails" in served.health()[1], 20)
    assert served.health()[0] == 503
    assert served.end()[0] == 0 and store.read_bytes() == before
    said = served.close()
    assert "while it was in use; nothing is stored any more" in said and "Traceback" not in said


def test_another_name_of_the_store_and_a_deleted_file_beside_it_let_no_second_serve_in(tmp_path: Path) -> None:
    store = tmp_path / "airtally.db"
    engine = open_store(f"sqlite:///{store}")
    claim = claim_serving(engine)
    claim.say(Serving(1, "2026-11-27 18:00", "http://127.0.0.1:8087/"))
    other = tmp_path / "other.db"
    other.hardlink_to(store)
    for place in (store, other):
        for gone in (False, True):
            if gone:
                (tmp_path / f"{place.name}.serving").unlink(missing_ok=True)
            code = (
                "import sys; from server.store.engine import open_store\n"
                "from server.store.serving import claim_serving\n"
                "claim_serving(open_store(sys.argv[1]))"
            )
            second = subprocess.run(
                [sys.executable, "-c", code, f"sqlite:///{place}"], cwd=ROOT, capture_output=True, text=True
            )
            assert second.returncode == 1 and "serves this store already" in second.stderr, (place, gone)
    with writing(engine) as connection:
        set_fact(connection, "still", "written")
    engine.dispose()
    claim.close()
    engine = open_store(f"sqlite:///{store}")
    claim_serving(engine).close()
    engine.dispose()
