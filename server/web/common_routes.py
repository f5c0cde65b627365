"""Addresses that are no page of figures: the definitions, health, style sheet and icon."""

from dataclasses import dataclass

from fastapi import APIRouter
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from server.web.definitions import Definitions
from server.web.frame import Frame
from server.web.house import READ, Housed, PageError
from server.web.shell import Link, Shell

FOREVER = "public, max-age=31536000, immutable"
routes = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class DefinitionsView:
    """What definitions.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    body: Markup  #: docs/definitions.md, rendered
    sections: tuple[Link, ...]  #: its parts


@routes.api_route("/definitions", methods=READ)
def definitions(request: Request, house: Housed) -> Response:
    def view(frame: Frame) -> DefinitionsView:
        return definitions_view(house.definitions, frame)

    return house.answer(request, ("definitions",), "definitions.html", view)


@routes.api_route("/health", methods=READ)
def health(house: Housed) -> Response:
    found = house.source.health()
    status = "ok" if found.is_well else found.says
    return JSONResponse({"status": status}, 200 if found.is_well else 503, headers={"Cache-Control": "no-store"})


@routes.api_route("/static/{name}", methods=READ)
async def static(request: Request, house: Housed, name: str) -> Response:
    file = house.fixed.get(f"/static/{name}")
    if file is None:
        raise PageError(404, "No such page", "There is nothing at this address.")
    body, media_type = file
    return body.answer(request, media_type, FOREVER)


def definitions_view(definitions: Definitions, frame: Frame) -> DefinitionsView:
    sections = tuple(Link(title, f"#{anchor}") for anchor, title in definitions.sections)
    return DefinitionsView(frame.shell("Definitions", "/definitions"), definitions.body, sections)
