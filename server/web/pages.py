"""The addresses: which page, for whom, from what."""

import asyncio
import datetime as dt
import re
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from fastapi import APIRouter
from jinja2 import Environment
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from server.web.definitions import Definitions
from server.web.intake.view import definitions_view, intake_view
from server.web.listening import WebOptions
from server.web.now.view import now_view
from server.web.proxies import untrusted
from server.web.rendering import HTML, PageCache, Rendered, context
from server.web.shell import Links
from server.web.sign.auth import has_password
from server.web.source import Source
from server.web.week.view import week_view
from server.web.weeks import Week, first_shown
from shared.zones import SECOND

READ = ["GET", "HEAD"]
PRIVATE = "private, no-cache"  # kept by the browser, asked for anew: over a slow link that is a 304 of a few bytes
FOREVER = "public, max-age=31536000, immutable"


class PageError(Exception):
    """A page that can't be shown: status, a heading, one sentence."""

    def __init__(self, status: int, heading: str, sentence: str) -> None:
        super().__init__(sentence)
        self.status, self.heading, self.sentence = status, heading, sentence


@dataclass(frozen=True)
class House:
    """What the pages share."""

    source: Source
    options: WebOptions
    links: Links
    templates: Environment
    definitions: Definitions
    fixed: dict[str, tuple[Rendered, str]]
    cache: PageCache = field(default_factory=PageCache)

    def draw(self, template: str, view: Any) -> bytes:
        return self.templates.get_template(template).render(context(view)).encode("utf-8", "replace")

    def signed_in(self) -> bool:
        """Whoever gets as far as a page has signed in, where there is a password."""
        return has_password(self.options.folder)

    def untrusted_proxies(self) -> tuple[str, ...]:
        """A sentence for each proxy that is not trusted."""
        return untrusted(self.options.folder, self.options.trusted_proxy, time.time())

    def page(self, key: tuple[object, ...], template: str, view: Callable[[bool], Any]) -> Rendered:
        """The page from the cache, or made. Blocks: for a thread."""
        signed_in = self.signed_in()
        return self.cache.get_or_make(
            (self.source.version(), signed_in, *key), lambda: self.draw(template, view(signed_in))
        )


def page_routes(house: House) -> APIRouter:
    """Now, Week, Intake, Definitions, health, style sheet and icon."""
    routes = APIRouter(include_in_schema=False)

    @routes.api_route("/", methods=READ)
    async def now(request: Request) -> Response:
        def made() -> Rendered:
            instant = house.source.now() // (60 * SECOND) * 60 * SECOND
            key = ("now", instant, house.source.alerts().stamp(), house.source.health())
            return house.page(key, "now.html", lambda signed: now_view(house.source, instant, house.links, signed))

        return (await asyncio.to_thread(made)).answer(request, HTML, PRIVATE)

    @routes.api_route("/week", methods=READ)
    async def latest_week() -> Response:
        def found() -> Week:
            return first_shown(house.source.first_and_last(), house.source.now(), house.source.station().zone)

        week = await asyncio.to_thread(found)
        return RedirectResponse(house.links.to(f"/week/{week.name}"), 302, headers={"Cache-Control": PRIVATE})

    @routes.api_route("/week/{name}", methods=READ)
    async def one_week(request: Request, name: str) -> Response:
        return (await asyncio.to_thread(_week_page, house, name)).answer(request, HTML, PRIVATE)

    @routes.api_route("/intake", methods=READ)
    async def intake(request: Request) -> Response:
        def made() -> Rendered:
            proxies = house.untrusted_proxies()
            return house.page(
                ("intake", proxies),
                "intake.html",
                lambda signed: intake_view(house.source, house.links, signed, proxies),
            )

        return (await asyncio.to_thread(made)).answer(request, HTML, PRIVATE)

    @routes.api_route("/definitions", methods=READ)
    async def definitions(request: Request) -> Response:
        def made() -> Rendered:
            return house.page(
                ("definitions",),
                "definitions.html",
                lambda signed: definitions_view(house.source, house.definitions, house.links, signed),
            )

        return (await asyncio.to_thread(made)).answer(request, HTML, PRIVATE)

    @routes.api_route("/health", methods=READ)
    async def health() -> Response:
        found = await asyncio.to_thread(house.source.health)
        status = "ok" if found.is_well else found.says
        return JSONResponse({"status": status}, 200 if found.is_well else 503, headers={"Cache-Control": "no-store"})

    @routes.api_route("/static/{name}", methods=READ)
    async def static(request: Request, name: str) -> Response:
        kept = house.fixed.get(f"/static/{name}")
        if kept is None:
            raise PageError(404, "No such page", "There is nothing at this address.")
        return kept[0].answer(request, kept[1], FOREVER)

    return routes


def _week_page(house: House, name: str) -> Rendered:
    now, zone = house.source.now(), house.source.station().zone
    found = re.fullmatch(r"(\d{4})-W(\d{2})", name, re.ASCII)
    try:
        if not found:
            raise ValueError(name)
        week = Week(dt.date.fromisocalendar(int(found[1]), int(found[2]), 1), zone)
    except ValueError:
        raise PageError(400, "No such week", f"“{name}” is not a week such as 2026-W47.") from None
    if not 1980 <= week.monday.year < 9998:
        raise PageError(404, "No such week", f"There is no log of {name}.")
    if week.start_us >= now:
        raise PageError(404, "Not yet", f"The week {name} has not begun.")
    minute = None if week.end_us <= now else now // (60 * SECOND)  # a week that is not over is drawn anew each minute
    upto = now if minute is None else minute * 60 * SECOND
    return house.page(
        ("week", week.name, minute),
        "week.html",
        lambda signed: week_view(house.source, week, upto, house.links, signed),
    )
