"""The addresses of the Month page and of its PDF."""

import re

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from server.report.pdf import pdf_of
from server.report.seen import not_seen
from server.web.house import MINUTE, PRIVATE, READ, House, Housed, PageError
from server.web.month.view import first_shown, month_view
from server.web.rendering import Rendered
from shared.zones import month_window

PDF = "application/pdf"
#: /month goes to the latest whole month; /month/2026-10 shows one, /month/2026-10.pdf is the committee's report.
routes = APIRouter(include_in_schema=False)


@routes.api_route("/month", methods=READ)
def latest_month(house: Housed) -> Response:
    return house.go_to(f"/month/{first_shown(house.source)}", 302)


@routes.api_route("/month/{name}.pdf", methods=READ)
def report(request: Request, house: Housed, name: str) -> Response:
    answer = _pdf(house, name).answer(request, PDF, PRIVATE)
    whose = re.sub(r"[^A-Za-z0-9]+", "-", house.source.station().callsign).strip("-")
    answer.headers["Content-Disposition"] = f'attachment; filename="{whose or "repeater"}-{name}.pdf"'
    return answer


@routes.api_route("/month/{name}", methods=READ)
def month(request: Request, house: Housed, name: str) -> Response:
    key = ("month", name, _known_minute(house, name))
    now = house.source.now()
    return house.answer(request, key, "month.html", lambda frame: month_view(house.source, name, now, frame))


def _known_minute(house: House, name: str) -> int:
    """The minute up to which a month is known, 0 where it is over. PageError where an address names none."""
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
    return 0 if end <= now else now // MINUTE


def _pdf(house: House, name: str) -> Rendered:
    minute = _known_minute(house, name)
    zone = house.source.station().zone
    if reason := not_seen(house.source.first_and_last(), month_window(name, zone), zone):
        raise PageError(404, "No report", f"{name}: {reason}")
    paper = house.options.paper
    key = (house.source.version(), "month.pdf", name, minute, paper)
    return house.cache.get_or_make(key, lambda: pdf_of(house.source.month(name), paper))
