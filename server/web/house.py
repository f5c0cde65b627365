"""What all pages share, and the one way in which they are answered. A route gets it as `house: Housed`."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Annotated, Any

from fastapi import Depends
from jinja2 import Environment
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from server.web.definitions import Definitions
from server.web.frame import Frame
from server.web.listening import WebOptions
from server.web.proxies import untrusted
from server.web.rendering import HTML, PageCache, Rendered, context
from server.web.shell import Links
from server.web.sign.auth import Sessions, has_password
from server.web.source import Source
from shared.zones import SECOND

READ = ["GET", "HEAD"]
PRIVATE = "private, no-cache"  # kept by the browser, asked for anew: over a slow link that is a 304 of a few bytes
MINUTE = 60 * SECOND


class PageError(Exception):
    """A page that can't be shown: status, a heading, one sentence."""

    def __init__(self, status: int, heading: str, sentence: str) -> None:
        super().__init__(sentence)
        self.status, self.heading, self.sentence = status, heading, sentence


@dataclass(frozen=True)
class House:
    """Its methods may block: for a thread, in which FastAPI runs every route that is no coroutine."""

    source: Source
    options: WebOptions
    links: Links
    sessions: Sessions
    templates: Environment
    definitions: Definitions
    fixed: dict[str, tuple[Rendered, str]]
    cache: PageCache = field(default_factory=PageCache)
    data: PageCache = field(default_factory=PageCache)  #: what programs and Explore's script get: no page waits for it

    def frame(self) -> Frame:
        """Whoever gets as far as a page has signed in, where there is a password."""
        return Frame(self.links, self.source.station(), has_password(self.options.folder))

    def minute(self) -> int:
        """The instant at which the running minute began: a page of now is made anew with each."""
        return self.source.now() // MINUTE * MINUTE

    def untrusted_proxies(self) -> tuple[str, ...]:
        """A sentence for each proxy that is not trusted."""
        return untrusted(self.options.folder, self.options.trusted_proxy, time.time())

    def draw(self, template: str, view: Any) -> bytes:
        return self.templates.get_template(template).render(context(view)).encode("utf-8", "replace")

    def page(self, key: tuple[object, ...], template: str, view: Callable[[Frame], Any]) -> Rendered:
        """The page from the cache, or made. The key holds all that the view depends on but the store and the frame."""
        frame = self.frame()
        full = (self.source.version(), frame.signed_in, *key)
        return self.cache.get_or_make(full, lambda: self.draw(template, view(frame)))

    def answer(
        self, request: Request, key: tuple[object, ...], template: str, view: Callable[[Frame], Any]
    ) -> Response:
        """The page as this browser gets it."""
        return self.page(key, template, view).answer(request, HTML, PRIVATE)

    def go_to(self, path: str, status: int = 303) -> Response:
        """On to another page. With 302 the browser asks again next time."""
        return RedirectResponse(self.links.to(path), status, {"Cache-Control": PRIVATE} if status == 302 else None)


async def _house_of(request: Request) -> House:
    house: House = request.app.state.house
    return house


Housed = Annotated[House, Depends(_house_of)]
