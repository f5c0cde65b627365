"""The address of the Moment page."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from server.web.house import MINUTE, PRIVATE, READ, Housed
from server.web.moment.view import asked_of, moment_view
from server.web.rendering import HTML
from shared.zones import DAY

routes = APIRouter(include_in_schema=False)


@routes.api_route("/moment", methods=READ)
def moment(request: Request, house: Housed) -> Response:
    source = house.source
    asked = asked_of(request.query_params, source.station().zone)
    settled = asked.at_us is not None and asked.at_us + DAY < source.now()
    key = ("moment", asked, source.alerts().stamp(), None if settled else house.minute() // MINUTE)
    page = house.page(key, "moment.html", lambda frame: moment_view(source, asked, frame))
    answer = page.answer(request, HTML, PRIVATE)
    if asked.trouble:
        answer.status_code = 400
    return answer
