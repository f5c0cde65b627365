"""The addresses of the Month page and of its PDF."""

import asyncio
import re

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from server.report.pdf import pdf_of
from server.report.seen import not_seen
from server.web.month.view import first_shown, month_view
from server.web.pages import PRIVATE, READ, House, PageError
from server.web.rendering import HTML, Rendered
from shared.zones import SECOND, month_window

PDF = "application/pdf"


def month_routes(house: House) -> APIRouter:
    """/month goes to the latest whole month; /month/2026-10 shows one, /month/2026-10.pdf is the committee's report."""
    routes = APIRouter(include_in_schema=False)

    @routes.api_route("/month", methods=READ)
    async def latest() -> Response:
        name = await asyncio.to_thread(first_shown, house.source)
        return RedirectResponse(house.links.to(f"/month/{name}"), 302, headers={"Cache-Control": PRIVATE})

    @routes.api_route("/month/{name}.pdf", methods=READ)
    async def report(request: Request, name: str) -> Response:
        made = await asyncio.to_thread(_pdf, house, name)
        answer = made.answer(request, PDF, PRIVATE)
        whose = re.sub(r"[^A-Za-z0-9]+", "-", house.source.station().callsign).strip("-")
        answer.headers["Content-Disposition"] = f'attachment; filename="{whose or "repeater"}-{name}.pdf"'
        return answer

    @routes.api_route("/month/{name}", methods=READ)
    async def one_month(request: Request, name: str) -> Response:
        return (await asyncio.to_thread(_page, house, name)).answer(request, HTML, PRIVATE)

    return routes


def _checked(house: House, name: str) -> tuple[str, int]:
    """The month that an address names, and the minute up to which it is known (0 where it is over); raises
    PageError."""
    now, zone = house.source.now(), house.source.station().zone
    try:
        if not name.isascii():
            raise ValueError(name)
        start, end = month_window(name, zone)
    except ValueError:
        raise PageError(400, "No such month", f"“{name}” is not a month such as 2026-10.") from None
    if not 1980 <= int(name[:4]) < 9998:
        raise PageError(404, "No such month", f"There is no log of {name}.")
    if start >= now:
        raise PageError(404, "Not yet", f"The month {name} has not begun.")
    return name, 0 if end <= now else now // (60 * SECOND)


def _page(house: House, name: str) -> Rendered:
    name, minute = _checked(house, name)
    now = house.source.now()
    return house.page(
        ("month", name, minute), "month.html", lambda signed: month_view(house.source, name, now, house.links, signed)
    )


def _pdf(house: House, name: str) -> Rendered:
    name, minute = _checked(house, name)
    zone = house.source.station().zone
    if said := not_seen(house.source.first_and_last(), month_window(name, zone), zone):
        raise PageError(404, "No report", f"{name}: {said}")
    paper = house.options.paper
    key = (house.source.version(), "month.pdf", name, minute, paper)
    return house.cache.get_or_make(key, lambda: pdf_of(house.source.month(name), paper))
