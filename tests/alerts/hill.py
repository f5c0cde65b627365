"""A hill with a log, a clock that the test sets, a web hook and a mailbox."""

import datetime as dt
import email
import email.policy
import http.server
import json
import threading
import time
from collections.abc import Callable
from pathlib import Path

from server.alerts.channels import channels_of
from server.alerts.outbox import Outbox
from server.alerts.repository import incidents
from server.alerts.watch import Watch
from server.config import Station, load_station
from server.intake.ingest import Intake
from server.store.engine import open_store, reading
from shared.zones import from_us, to_us

NIGHT = to_us(dt.datetime(2026, 11, 18, 3, 10, tzinfo=dt.UTC))


class Clock:
    """A clock that runs from an instant on, or stands until it is set."""

    def __init__(self, start: int, runs: bool = False) -> None:
        self.now, self._runs, self._begun = start, runs, time.monotonic()

    def __call__(self) -> int:
        return self.now + (round((time.monotonic() - self._begun) * 1e6) if self._runs else 0)

    def steady(self) -> float:
        return self() / 1e6


class Hook:
    """A web hook: what was posted to it, and when; it answers with `answers` one after the other, then with 200."""

    def __init__(self) -> None:
        self.posted: list[tuple[float, dict[str, str]]] = []
        self.answers: list[int] = []
        hook = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
                answer = hook.answers.pop(0) if hook.answers else 200
                if answer == 200:
                    hook.posted.append((time.monotonic(), body))
                self.send_response(answer)
                self.end_headers()

            def do_GET(self) -> None:
                hook.posted.append((time.monotonic(), {"path": self.path}))
                self.send_response(200)
                self.end_headers()

            def log_message(self, *_: object) -> None:
                pass

        self._server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.url = f"json://127.0.0.1:{self._server.server_port}/"
        self._thread = threading.Thread(target=self._server.serve_forever)
        self._thread.start()

    def titles(self) -> list[str]:
        return [body["title"] for _, body in self.posted]

    def close(self) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()


class Mailbox:
    """What came by SMTP, and when."""

    def __init__(self) -> None:
        self.mails: list[tuple[float, email.message.EmailMessage]] = []

    async def handle_DATA(self, server: object, session: object, envelope) -> str:  # type: ignore[no-untyped-def]
        self.mails.append((time.monotonic(), email.message_from_bytes(envelope.content, policy=email.policy.default)))  # type: ignore[arg-type]
        return "250 taken"


def station_in(folder: Path, notify: list[str], more: str = "") -> Station:
    (folder / "station.toml").write_text(
        '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[timers]\ntimeout_s = 180\n[[log]]\npath ='
        f' "host.log"\n[alerts]\nnotify = {json.dumps(notify)}\n{more}'
    )
    (folder / "host.log").touch()
    return load_station(folder / "station.toml")


def line(at: int, event: str, **more: object) -> str:
    return json.dumps({"t": from_us(at).isoformat(), "event": event, **more}) + "\n"


def append(folder: Path, *lines: str) -> None:
    with (folder / "host.log").open("a") as log:
        log.write("".join(lines))


def until(true: Callable[[], bool], seconds: float = 20.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.005)


class Hill:
    """Intake, watch and outbox by hand, with a clock that the test sets."""

    def __init__(self, folder: Path, station: Station, clock: Clock) -> None:
        self.folder, self.clock = folder, clock
        self.engine = open_store(station.store_url())
        self.intake = Intake(self.engine, station)
        channels, troubles = channels_of(station.alerts.notify)
        assert troubles == []
        self.outbox = Outbox(self.engine, channels, clock)
        self.watch = Watch(self.engine, station, channels, self.outbox, clock, clock.steady)
        self.outbox.take_up()

    def at(self, instant: int) -> None:
        """It is now that late: read, look, send."""
        self.clock.now = instant
        self.intake.catch_up()
        self.watch.look()
        while self.outbox.send_next():
            pass

    def incidents(self) -> list[tuple[str, str, int, int | None]]:
        with reading(self.engine) as connection:
            return [(one.rule, one.subject, one.raised, one.cleared) for one in incidents(connection)]

    def close(self) -> None:
        self.engine.dispose()
