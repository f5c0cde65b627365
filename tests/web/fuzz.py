"""Random requests, seeded, with right tokens, at every route and form of the pages over a small real store. In-process,
so that it is quick.
"""

import asyncio
import random
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest import mock
from urllib.parse import quote_from_bytes, urlencode

from starlette.routing import BaseRoute

from server.config import load_station
from server.intake.ingest import Intake
from server.source import StoreSource
from server.store.engine import open_store
from server.teaching.teacher import Teacher
from server.web.app import create_app
from server.web.listening import WebOptions
from server.web.sign.auth import Sessions
from server.web.sign.forms import FORM_COOKIE
from shared.errors import AirtallyError, UnusableError

STATION = (
    '[repeater]\ncallsign = "QB0BFR"\nzone = "Europe/London"\n[[log]]\npath = "host.log"\ndialect ='
    ' "host"\n[[log]]\npath = "other.log"\ndialect = "activity"\n'
)
DIALECT = '[dialect]\nname = "host"\n[[line]]\nevent = "over"\ntext = "{t} {mode} {station} {duration}"\n'
PURPOSES = ("login", "logout", "teach", "changes", "notes", "note 1", "note 0", f"note {10**30}")
VISITOR = "a-visitor-of-these-pages"
#: Names of fields and options; each is tried with each kind of value.
NAMES = (
    "first",
    "last",
    "hold_dmr",
    "hold_fm",
    "timeout",
    "mode",
    "begin",
    "end",
    "width",
    "hours",
    "limit",
    "then",
    "token",
    "at",
    "day",
    "time",
    "move",
    "kind",
    "text",
    "committee",
    "drop",
    "password",
    "on",
    "note",
    "file",
    "path",
    "upload",
    "log",
    "key",
    "name",
    "q0",
    "e0",
    "h0_1",
    "week",
    "month",
    "from",
    "to",
)
GOOD = (
    "2026-11-16",
    "2026-11-22",
    "2026-W47",
    "2026-10",
    "dmr",
    "fm",
    "6min",
    "60min",
    "quiet",
    "day",
    "5",
    "20",
    "0",
    "1",
    "/",
    "/intake",
    "host.log",
    "my-host",
    "over",
)
ODD = (
    "",
    " ",
    "\0",
    "a\0b",
    "~nosuch",
    "~nosuch/x",
    "~",
    "~root/../..",
    "../" * 40 + "etc/passwd",
    "/proc/self/mem",
    "/dev/zero",
    "/dev/stdin",
    "x" * 256,
    "x" * 5000,
    "/" + "y" * 300 + ".log",
    "9" * 5000,
    "-1",
    "1e999",
    "nan",
    "inf",
    "-inf",
    "1_000",
    "٣",
    "²",
    "½",
    "0x10",
    str(2**63),
    str(2**64),
    str(-(2**63) - 1),
    "1" * 400,
    "1.7976931348623157e308",
    "5e-324",
    "0000-00",
    "2026-00",
    "2026-13",
    "9999-12",
    "10000-01",
    "2026-W00",
    "2026-W53",
    "2026-W54",
    "2025-W53",
    "9999-W52",
    "0001-W01",
    "1979-W52",
    "2026-W47\n",
    "2026-1",
    "٢٠٢٦-10",
    "0001-01-01",
    "9999-12-31",
    "2026-02-30",
    "2026-11-16T25:00",
    "2026-W10-1",
    "20261116",
    "2026-W471",
    "-0001-01-01",
    "2026-10-25T01:30",
    "2026-11-16T00:00+99:99",
    "<script>alert(1)</script>",
    "'; drop table over; --",
    "%00",
    "%",
    "%zz",
    "\u202e\u200b",
    "\ud7ff\ue000",
    "\U0001f4fb" * 80,
    "{{7*7}}",
    "${x}",
    "//evil.example",
    "\\evil",
    "[" * 3000,
    "{" * 3000,
)
BYTES = (b"\xff\xfe", b"\xed\xa0\x80", b"\x80" * 50, b"\r\n\r\n", b"\xc3\x28", b"")
UPLOADS = (
    b"",
    b"\n",
    b"\0" * 500,
    b"no log at all",
    b"2026-11-16T10:00:00Z fm QA1XYZ 3\n" * 30,
    b'{"t": "2026-11-16T10:00:00Z", "event": "over"}\n' * 20,
    b"\xff\xfe" * 300,
    b"[" * 5000,
    b'{"a":' * 3000 + b"\n",
    b"t,mode\n" + b"9" * 4500 + b",x\n",
    b"Nov 16 10:00:00 hill host: QA1XYZ\n" * 20,
    b"\x1f\x8b\x08\x00junk",
    b"\x28\xb5\x2f\xfd" + b"\0" * 40,
    b"9" * 70_000,
)
METHODS = ("GET", "POST", "HEAD", "PUT", "OPTIONS", "TRACE", "X\u00e9")


@dataclass
class Found:
    """What a run met."""

    requests: int = 0
    statuses: Counter[int] = field(default_factory=Counter)
    routes: set[str] = field(default_factory=set)  #: that answered something else than 404 or 405
    wrong: list[str] = field(default_factory=list)  #: requests answered with 5xx, with nothing, or after half a minute
    slowest_s: float = 0.0


def paths_of(routes: list[BaseRoute]) -> Iterator[tuple[str, str]]:
    """Every address of an application, with its parameters in braces, and each method that it takes."""
    for route in routes:
        if hasattr(route, "path"):
            yield from ((route.path, method) for method in getattr(route, "methods", None) or ())
        inner = getattr(route, "original_router", None) or getattr(route, "router", None)
        yield from paths_of(getattr(route, "routes", None) or getattr(inner, "routes", None) or [])


@contextmanager
def pages(folder: Path) -> Iterator[tuple[Any, Sessions]]:
    """The application over a small store, and what signs its tokens. Learning is done here and not in a process of its
    own: the process would answer for whatever goes wrong in it.
    """
    lines = [f"2026-11-{16 + n // 60:02d}T10:{n % 60:02d}:00Z fm QA{n % 9}XYZ {n % 40 + 1}\n" for n in range(300)]
    (folder / "host.log").write_text("".join(lines) + "2026-11-21T10:00:00Z something new entirely\n" * 20)
    (folder / "other.log").write_text(
        '{"t": "2026-11-20T10:00:00Z", "event": "over", "mode": "dmr", "slot": 1, "seconds": 40, "station": "QA1XYZ"}\n'
    )
    (folder / "host.toml").write_text(DIALECT)
    (folder / "station.toml").write_text(STATION)
    station = load_station(folder / "station.toml")
    engine = open_store(station.store_url())
    Intake(engine, station).catch_up()

    def here(work: Callable[[Any], Any], task: Any, **_: Any) -> Any:
        try:
            return work(task)
        except AirtallyError as error:
            raise UnusableError(str(error)) from error

    options = WebOptions(folder)
    with mock.patch("server.teaching.lessons.run", here), mock.patch("server.teaching.unread.run", here):
        yield create_app(StoreSource(engine, station), options, Teacher(engine, station)), Sessions(folder)
    engine.dispose()


class Fuzz:
    """A stream of requests from a seed."""

    def __init__(self, app: Any, sessions: Sessions, seed: int) -> None:
        self._app, self._random = app, random.Random(seed)
        self._methods: dict[str, list[str]] = {}
        for path, method in sorted(set(paths_of(app.routes))):
            self._methods.setdefault(path, []).append(method)
        self._paths = sorted(self._methods)
        self._tokens = {purpose: sessions.form_token(purpose, VISITOR) for purpose in PURPOSES}
        self._lessons: list[str] = []
        self.found = Found()

    async def run(self, requests: int) -> Found:
        for _ in range(requests):
            await self._one()
        return self.found

    def _value(self) -> bytes:
        some = self._random
        kind = some.random()
        if kind < 0.35:
            return some.choice(GOOD).encode()
        if kind < 0.85:
            return some.choice(ODD).encode("utf-8", "surrogatepass")
        if kind < 0.93:
            return some.choice(BYTES)
        return some.randbytes(some.randint(1, 40))

    def _path(self) -> tuple[str, bytes]:
        """A route, and an address of it."""
        some = self._random
        if some.random() < 0.03:
            return "", b"/" + self._value().replace(b"\0", b"")
        route = some.choice(self._paths)
        out = []
        for part in route.split("/"):
            if not part.startswith("{"):
                out.append(part.encode())
            elif route.startswith("/teach") and self._lessons and some.random() < 0.5:
                out.append(some.choice(self._lessons).encode())
            else:
                out.append(self._value().replace(b"/", b"%2F") + (part.partition("}")[2]).encode())
        return route, b"/".join(out)

    def _fields(self, route: str) -> list[tuple[bytes, bytes]]:
        some = self._random
        purpose = {
            "login": "login",
            "logout": "logout",
            "teach": "teach",
            "sharing": "changes",
            "transmitter": "note 1",
        }.get(route.split("/")[1] if route else "", "teach")
        fields = [(some.choice(NAMES).encode(), self._value()) for _ in range(some.randint(0, 5))]
        if some.random() < 0.95:
            fields.insert(0, (b"token", self._tokens[purpose].encode()))
        return fields

    def _body(self, route: str) -> tuple[bytes, bytes]:
        """Content type and content."""
        some = self._random
        fields, kind = self._fields(route), some.random()
        if kind < 0.55:
            return b"application/x-www-form-urlencoded", urlencode(fields).encode()
        if kind < 0.92:
            parts = [
                b'--b\r\nContent-Disposition: form-data; name="%s"\r\n\r\n%s\r\n' % (name, value)
                for name, value in fields
            ]
            if some.random() < 0.7:
                called = self._value().replace(b'"', b"").replace(b"\r\n", b"")
                name = some.choice([b"upload", b"upload", b"path", b"token", b"log", b"key", b"name", b"e0"])
                parts.append(
                    b'--b\r\nContent-Disposition: form-data; name="%s"; filename="%s"\r\n\r\n%s\r\n'
                    % (name, called, some.choice(UPLOADS))
                )
            return b"multipart/form-data; boundary=b", b"".join(parts) + (b"--b--\r\n" if some.random() < 0.9 else b"")
        return some.choice(
            [b"application/json", b"multipart/form-data", b"multipart/form-data; boundary=", b"text/plain", b"\xff"]
        ), some.randbytes(200)

    async def _one(self) -> None:
        some = self._random
        route, path = self._path()
        method = some.choice(self._methods.get(route, METHODS) if some.random() < 0.9 else METHODS)
        query = (
            urlencode([(some.choice(NAMES), self._value()) for _ in range(some.randint(0, 4))]).encode()
            if some.random() < 0.6
            else self._value()
        )
        headers = [(b"host", b"127.0.0.1:8087"), (b"cookie", f"{FORM_COOKIE}={VISITOR}".encode())]
        kind, body = self._body(route) if method in ("POST", "PUT") else (b"", b"")
        if body:
            length = (
                str(len(body)).encode()
                if some.random() < 0.97
                else some.choice([b"\xb2", b"9" * 5000, b"-1", b"", b"1e3", b"+5"])
            )
            headers += [(b"content-type", kind), (b"content-length", length)]
        if some.random() < 0.1:
            headers.append(
                (
                    some.choice(
                        [b"if-none-match", b"accept-encoding", b"origin", b"sec-fetch-site", b"x-forwarded-proto"]
                    ),
                    self._value(),
                )
            )
        if some.random() < 0.02:
            headers[1] = (b"cookie", self._value())
        scope = {
            "type": "http",
            "http_version": "1.1",
            "method": method,
            "path": path.decode("utf-8", "replace"),
            "raw_path": quote_from_bytes(path).encode(),
            "query_string": query,
            "root_path": "",
            "scheme": "http",
            "headers": headers,
            "client": ("127.0.0.1", 50_000),
            "server": ("127.0.0.1", 8087),
        }
        status, location, taken = await self._asked(scope, body)
        self.found.requests += 1
        self.found.statuses[status] += 1
        self.found.slowest_s = max(self.found.slowest_s, taken)
        if status not in (404, 405):
            self.found.routes.add(route)
        if status >= 500 or status == 0 or taken > 30:
            self.found.wrong.append(f"{status} {taken:.1f} s: {method} {path[:120]!r} ?{query[:200]!r} {body[:300]!r}")
        if method == "POST" and status == 303 and location.startswith("/teach/"):
            self._lessons = [*self._lessons[-3:], location.removeprefix("/teach/")]

    async def _asked(self, scope: dict[str, Any], body: bytes) -> tuple[int, str, float]:
        """Status (0 where none was given), where it leads, seconds."""
        told: dict[str, Any] = {"status": 0, "headers": []}
        messages = [{"type": "http.request", "body": body, "more_body": False}]

        async def receive() -> dict[str, Any]:
            if messages:
                return messages.pop()
            await asyncio.sleep(3600)
            return {"type": "http.disconnect"}

        async def send(message: dict[str, Any]) -> None:
            if message["type"] == "http.response.start":
                told.update(message)

        began = time.monotonic()
        try:
            await self._app(scope, receive, send)
        except Exception as error:
            told["status"] = 500
            self.found.wrong.append(f"{type(error).__name__}: {error}"[:300])
        location = next((value.decode("latin-1") for name, value in told["headers"] if name == b"location"), "")
        return told["status"], location, time.monotonic() - began


def fuzz(folder: Path, requests: int, seed: int) -> Found:
    """So many requests at the pages of a store made in a folder."""
    with pages(folder) as (app, sessions):
        return asyncio.run(Fuzz(app, sessions, seed).run(requests))
