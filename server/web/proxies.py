"""Proxies that the station file doesn't trust: everybody behind one counts as one visitor, so that is told.

Who was seen is kept in a private file beside the store, for `airtally check` in its own process and for the Intake
page."""

import json
import logging
import time
from contextlib import suppress
from pathlib import Path

from starlette.types import ASGIApp, Receive, Scope, Send
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from shared.private import write_private

logger = logging.getLogger(__name__)
SEEN_FILE = "airtally.proxies"
REMEMBERED_S = 14 * 86_400
MOST = 8  #: addresses; whoever sends the header can bring as many as he has
FORWARDED = {b"x-forwarded-for", b"forwarded"}


class Proxies:
    """Takes the headers of trusted proxies for granted (uvicorn's own middleware) and takes note of the others."""

    def __init__(self, app: ASGIApp, trusted: tuple[str, ...], folder: Path) -> None:
        self._believing = ProxyHeadersMiddleware(app, trusted_hosts=list(trusted))  # type: ignore[arg-type]
        self._folder = folder
        self._told: set[str] = set()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and (client := scope.get("client")):
            address = client[0]
            believed = address in self._believing.trusted_hosts
            if not believed and address not in self._told and any(name in FORWARDED for name, _ in scope["headers"]):
                self._tell(address)
        await self._believing(scope, receive, send)  # type: ignore[arg-type]

    def _tell(self, address: str) -> None:
        if len(self._told) >= MOST:
            return
        self._told.add(address)
        logger.warning("%s", sentence(address))
        seen = _seen(self._folder) | {address: int(time.time())}
        with suppress(OSError):  # said on the log already
            write_private(self._folder / SEEN_FILE, json.dumps(dict(list(seen.items())[-MOST:])))


def sentence(address: str) -> str:
    """What to do about a proxy that is not trusted."""
    return (
        f"Requests from {address} say that they were forwarded, and it is not in [web] trusted_proxy, so it is not "
        "believed: all who come that "
        "way count as one visitor, and one who guesses passwords locks all of them out. If it is your own proxy, name "
        "it there."
    )


def untrusted(folder: Path, trusted: tuple[str, ...], now_s: float) -> tuple[str, ...]:
    """A sentence for each proxy that was seen in the last two weeks and is not trusted."""
    believed = ProxyHeadersMiddleware(None, trusted_hosts=list(trusted)).trusted_hosts  # type: ignore[arg-type]
    return tuple(
        sentence(one) for one, when in _seen(folder).items() if one not in believed and now_s - when < REMEMBERED_S
    )


def _seen(folder: Path) -> dict[str, int]:
    try:
        found = json.loads((folder / SEEN_FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return {one: when for one, when in found.items() if isinstance(when, int)} if isinstance(found, dict) else {}
