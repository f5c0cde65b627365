"""Every command that the documents show as an example is run as it stands, on a demo."""

import contextlib
import datetime as dt
import io
import os
import shlex
import sys
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from docs.examples import commands_shown
from server.cli import main
from server.demo.write import write_demo
from server.store.engine import close_stores, open_store, writing
from server.store.incidents import raise_incident

ROOT = Path(__file__).parents[1]
PAGES = ("docs/commands.md", "README.md")
#: Named, but not whole: they want an argument, a terminal or a signal. Tests of their own run them.
ELSEWHERE = {"airtally init", "airtally serve", "airtally demo", "airtally dialect check", "airtally dialect try"}
#: With exit 1 these say that they found something wrong, as an old log is to `check`.
MAY_FIND = ("airtally check", "airtally dialect try ")
#: Where a host's files lie in the documents -> where they lie here.
PLACES = {"/var/log/host/": "host/", "/media/stick/": "stick/"}


class _Listener(BaseHTTPRequestHandler):
    def do_POST(self) -> None:
        self.rfile.read(int(self.headers.get("Content-Length", 0)))
        self.send_response(200)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture
def listener() -> Iterator[str]:
    """Where notices go: a server of this machine's own."""
    server = HTTPServer(("127.0.0.1", 0), _Listener)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"json://127.0.0.1:{server.server_port}/"
    server.shutdown()
    thread.join()
    server.server_close()


def run(line: str, folder: Path) -> tuple[int, str, str]:
    """A line of a document, in a folder: exit code, what it printed, what it said."""
    words, _, into = line.partition(" > ")
    out, err, there, given = io.StringIO(), io.StringIO(), Path.cwd(), (sys.stdin, sys.argv)
    os.chdir(folder)
    sys.stdin, sys.argv = io.StringIO("heather and slate\n"), shlex.split(words)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as left:
            main()
    finally:
        os.chdir(there)
        sys.stdin, sys.argv = given
    if into:
        (folder / into).write_text(out.getvalue())
    return int(left.value.code or 0), out.getvalue(), err.getvalue()


def prepared(folder: Path, listener: str) -> None:
    """What the documents take for granted: a station that was read, a host's log, notices that go somewhere."""
    write_demo(folder, weeks=4, first_day=dt.date(2026, 10, 26))
    station = folder / "station.toml"
    assert "notify = []" in station.read_text()
    station.write_text(station.read_text().replace("notify = []", f'notify = ["{listener}"]'))
    for place in ("host", "stick", "new"):
        (folder / place).mkdir()
    lines = (folder / "logs" / "host.log").read_text().splitlines(keepends=True)[:8000]
    for name, some in (("voice.log.1", lines[:4000]), ("voice.log", lines[4000:])):
        (folder / name).write_text("".join(some))
    for name in ("voice.log", "host.log"):
        (folder / "host" / name).write_text("".join(lines))
    assert run("airtally ingest", folder)[0] == 0
    with writing(open_store(f"sqlite:///{folder}/airtally.db")) as connection:
        for number in range(12):
            raise_incident(
                connection, ("chatter", "air", number), cleared=None, urgent=False, says="Short keyings.", began=None
            )
    assert run("airtally backup before.db", folder)[0] == 0


def test_every_command_that_the_documents_show_does_what_it_says(tmp_path: Path, listener: str) -> None:
    prepared(tmp_path, listener)
    lines = list(dict.fromkeys(line for page in PAGES for line in commands_shown((ROOT / page).read_text())))
    assert len(lines) > 50 and {*lines, "airtally demo"} >= ELSEWHERE
    failed = []
    for line in lines:
        if line in ELSEWHERE:
            continue
        here = line
        for shown, place in PLACES.items():
            here = here.replace(shown, place)
        asks = line.startswith("airtally adopt") and "--yes" not in line
        code, _, err = run(f"{here} --yes" if asks else here, tmp_path / "new" if " init " in line else tmp_path)
        if code != 0 and not (code == 1 and line.startswith(MAY_FIND)):
            failed.append((line, code, err[:200]))
    close_stores()
    assert not failed, "\n".join(map(str, failed))
