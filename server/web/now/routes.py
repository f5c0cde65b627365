"""The address of the first page."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from server.web.house import READ, Housed
from server.web.now.view import now_view

routes = APIRouter(include_in_schema=False)


@routes.api_route("/", methods=READ)
def now(request: Request, house: Housed) -> Response:
    minute = house.minute()
    key = ("now", minute, house.source.alerts().stamp(), house.source.health())
    return house.answer(request, key, "now.html", lambda frame: now_view(house.source, minute, frame))
