"""The addresses of the Reception page: 13 weeks, and a year."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from server.web.house import READ, Housed
from server.web.reception.view import reception_view
from shared.zones import from_us, midnight

routes = APIRouter(include_in_schema=False)


@routes.api_route("/reception", methods=READ)
def reception(request: Request, house: Housed) -> Response:
    return _page(request, house, year=False)


@routes.api_route("/reception/year", methods=READ)
def reception_of_a_year(request: Request, house: Housed) -> Response:
    return _page(request, house, year=True)


def _page(request: Request, house: Housed, *, year: bool) -> Response:
    """Whole days up to the last midnight: of the running one too little is heard."""
    zone = house.source.station().zone
    upto = midnight(from_us(house.source.now(), zone).date(), zone)
    key = ("reception", year, upto)
    return house.answer(request, key, "reception.html", lambda frame: reception_view(house.source, upto, year, frame))
