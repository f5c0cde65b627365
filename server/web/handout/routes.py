"""The addresses of the users' sheet and of its PDF."""

import re

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from server.report.pdf import handout_pdf
from server.web.handout.view import handout_of, handout_view, window_of
from server.web.house import PRIVATE, READ, Housed, PageError

PDF = "application/pdf"
routes = APIRouter(include_in_schema=False)


@routes.api_route("/handout", methods=READ)
def page(request: Request, house: Housed) -> Response:
    """The same until another week has ended, or the store changes."""
    window = window_of(house.source)
    return house.answer(
        request, ("handout", window), "handout.html", lambda frame: handout_view(house.source, window, frame)
    )


@routes.api_route("/handout.pdf", methods=READ)
def paper(request: Request, house: Housed) -> Response:
    window = window_of(house.source)
    if window is None:
        raise PageError(404, "No sheet yet", "There is no sheet before the log holds one whole week, Monday to Sunday.")
    size = house.options.paper
    key = (house.source.version(), "handout.pdf", window, size)
    made = house.cache.get_or_make(key, lambda: handout_pdf(handout_of(house.source, window), size))
    answer = made.answer(request, PDF, PRIVATE)
    whose = re.sub(r"[^A-Za-z0-9]+", "-", house.source.station().callsign).strip("-")
    answer.headers["Content-Disposition"] = f'attachment; filename="{whose or "repeater"}-users.pdf"'
    return answer
