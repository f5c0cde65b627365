"""The addresses of the Week page."""

import datetime as dt
import re

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from server.web.house import MINUTE, READ, House, Housed, PageError
from server.web.week.view import week_view
from server.web.weeks import Week, first_shown

routes = APIRouter(include_in_schema=False)


@routes.api_route("/week", methods=READ)
def latest_week(house: Housed) -> Response:
    source = house.source
    week = first_shown(source.first_and_last(), source.now(), source.station().zone)
    return house.go_to(f"/week/{week.name}", 302)


@routes.api_route("/week/{name}", methods=READ)
def week(request: Request, house: Housed, name: str) -> Response:
    shown, now = _named_week(house, name), house.source.now()
    over = shown.end_us <= now
    upto = now if over else house.minute()  # a week that is not over is drawn anew each minute
    key = ("week", shown.name, None if over else upto // MINUTE)
    return house.answer(request, key, "week.html", lambda frame: week_view(house.source, shown, upto, frame))


def _named_week(house: House, name: str) -> Week:
    """The week that an address names. PageError where it is none, or has not begun."""
    found = re.fullmatch(r"(\d{4})-W(\d{2})", name, re.ASCII)
    try:
        if not found:
            raise ValueError(name)
        week = Week(dt.date.fromisocalendar(int(found[1]), int(found[2]), 1), house.source.station().zone)
    except ValueError:
        raise PageError(400, "No such week", f"“{name}” is not a week such as 2026-W47.") from None
    if not 1980 <= week.monday.year < 9998:
        raise PageError(404, "No such week", f"There is no log of {name}.")
    if week.start_us >= house.source.now():
        raise PageError(404, "Not yet", f"The week {name} has not begun.")
    return week
