"""The addresses under /api/v1: the same JSON as the commands of the same name; and /metrics."""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from fastapi import APIRouter
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from server.telling.caution import CAUTION, SCREENING
from server.telling.moment_sentences import moment_json
from server.web.api.errors import METRICS, ROOT
from server.web.api.metrics import Scrapes
from server.web.api.openapi import description
from server.web.api.window import asked_moment, asked_window
from server.web.house import PRIVATE, READ, House, Housed
from server.web.rendering import Rendered
from server.web.source import Source
from shared.errors import UnusableError
from shared.windows import AS_QUERY

JSON = "application/json"
Window = tuple[int, int]
Answer = Callable[[Source, Window], Any]
routes = APIRouter(include_in_schema=False)


def _of_a_window(name: str, answer: Answer) -> None:
    """An address whose answers are kept as pages are, and made one at a time."""

    @routes.api_route(f"{ROOT}/{name}", methods=READ, name=name)
    def endpoint(request: Request, house: Housed) -> Response:
        window = _window(house, request)
        if window is None:
            raise HTTPException(400, AS_QUERY)
        key = (ROOT, name, window, house.source.version())
        made = house.data.get_or_make(key, lambda: packed(answer(house.source, window)))
        return made.answer(request, JSON, PRIVATE)


_of_a_window("figures", lambda source, window: source.figures(*window).as_json())
_of_a_window("reception", lambda source, window: source.reception(*window).as_json())
_of_a_window("links", lambda source, window: source.links(*window).as_json())
_of_a_window("exposure", lambda source, window: source.exposure(*window).as_json(f"{SCREENING} {CAUTION}"))


@routes.api_route(f"{ROOT}/alerts", methods=READ)
def alerts(request: Request, house: Housed) -> Response:
    window, zone = _window(house, request), house.source.station().zone
    found = house.source.alerts().raised(*(window or (None, None)))
    return Rendered.of(packed([one.as_json(zone) for one in found])).answer(request, JSON, PRIVATE)


@routes.api_route(f"{ROOT}/moment", methods=READ)
def moment(request: Request, house: Housed) -> Response:
    source = house.source
    with _as_refusal():
        at_us, mode = asked_moment(request.query_params.multi_items(), source.station().zone)
    found = moment_json(source.moment(at_us, mode), source.logged(), source.station().names)
    return Rendered.of(packed(found)).answer(request, JSON, PRIVATE)


@routes.api_route(f"{ROOT}/openapi.json", methods=READ)
def openapi(request: Request, house: Housed) -> Response:
    return Rendered.of(packed(description(house.options.path_prefix))).answer(request, JSON, PRIVATE)


@routes.api_route(METRICS, methods=READ)
def metrics(request: Request) -> Response:
    scrapes: Scrapes = request.app.state.scrapes
    body, media_type = scrapes.scrape(request.headers.get("accept", ""))
    return Response(body, headers={"Content-Type": media_type, "Cache-Control": "no-store"})


def _window(house: House, request: Request) -> Window | None:
    with _as_refusal():
        return asked_window(request.query_params.multi_items(), house.source.station().zone)


@contextmanager
def _as_refusal() -> Iterator[None]:
    """What can't be used is the asker's to mend."""
    try:
        yield
    except UnusableError as error:
        raise HTTPException(400, str(error)) from None


def packed(value: Any) -> bytes:
    """JSON as it goes over the wire; a number that JSON does not have is a defect."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode("utf-8", "replace")
