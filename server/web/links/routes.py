"""The address of the Links page."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from server.web.house import READ, Housed
from server.web.links.view import links_view

routes = APIRouter(include_in_schema=False)


@routes.api_route("/links", methods=READ)
def links(request: Request, house: Housed) -> Response:
    now = house.minute()
    return house.answer(request, ("links", now), "links.html", lambda frame: links_view(house.source, now, frame))
