"""The address of the Intake page."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from server.web.house import READ, Housed
from server.web.intake.view import intake_view

routes = APIRouter(include_in_schema=False)


@routes.api_route("/intake", methods=READ)
def intake(request: Request, house: Housed) -> Response:
    proxies = house.untrusted_proxies()
    key = ("intake", proxies)
    return house.answer(request, key, "intake.html", lambda frame: intake_view(house.source, frame, proxies))
