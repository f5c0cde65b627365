"""The pages as one ASGI application."""

import asyncio
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.types import Scope

from server.telling.outside import visible
from server.web.deadlines import BACKLOG, DeadlineProtocol, quietly
from server.web.definitions import definitions_file, render
from server.web.guard import HEADERS, OPEN_TO_ALL, TROUBLE, Guard
from server.web.intake.view import ErrorView
from server.web.listening import WebOptions, listen_address
from server.web.month.routes import month_routes
from server.web.pages import House, PageError, page_routes
from server.web.prefix import UnderPrefix
from server.web.proxies import Proxies
from server.web.rendering import HTML, environment, fixed_files
from server.web.sharing.routes import sharing_routes
from server.web.shell import Link, Links
from server.web.sign.auth import Sessions
from server.web.sign.routes import sign_routes
from server.web.source import Source
from server.web.teach.routes import teach_routes
from server.web.teach.source import Teacher
from server.web.transmitter.routes import transmitter_routes
from shared.errors import StoreError

logger = logging.getLogger(__name__)

#: What a page that can't be shown says: status -> (heading, sentence).
SAID = {
    404: ("No such page", "There is nothing at this address."),
    405: ("Not here", "This address does not accept that kind of request."),
    500: ("Something went wrong", "This page could not be made; the log of `airtally serve` has more."),
}


def create_app(source: Source, options: WebOptions, teacher: Teacher | None = None) -> FastAPI:
    """The application over a source; with a teacher there are the pages that teach logs. Reads templates, style sheet
    and definitions once.
    """
    paths, fixed = fixed_files()
    house = House(
        source=source,
        options=options,
        links=Links(options.path_prefix, paths),
        templates=environment(),
        definitions=render(definitions_file().read_text(encoding="utf-8")),
        fixed=fixed,
    )
    sessions = Sessions(options.folder)
    logging.getLogger("python_multipart").setLevel(
        logging.ERROR
    )  # a line for each odd byte of a form is not for the log
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None, redirect_slashes=False, lifespan=_running)
    if teacher is not None:
        app.include_router(teach_routes(house, sessions, teacher))  # its Intake page comes before the plain one
    app.include_router(page_routes(house))
    app.include_router(month_routes(house))
    app.include_router(sign_routes(house, sessions))
    app.include_router(sharing_routes(house, sessions))
    app.include_router(transmitter_routes(house, sessions))
    _add_error_pages(app, house)

    async def refuse(scope: Scope, status: int, heading: str, sentence: str) -> Response:
        return _error_page(house, status, heading, sentence, known_visitor=False)

    app.add_middleware(Guard, options=options, sessions=sessions, refuse=refuse)
    app.add_middleware(UnderPrefix, prefix=options.path_prefix)
    app.add_middleware(Proxies, trusted=options.trusted_proxy, folder=options.folder)
    return app


@asynccontextmanager
async def _running(app: FastAPI) -> AsyncIterator[None]:
    quietly(asyncio.get_running_loop())
    yield


def uvicorn_settings(options: WebOptions) -> dict[str, Any]:
    """How uvicorn is to run the application. The application itself minds whose X-Forwarded-* headers are believed."""
    host, port = listen_address(options.listen)
    return {
        "host": host,
        "port": port,
        "http": DeadlineProtocol,
        "ws": "none",
        "backlog": BACKLOG,
        "proxy_headers": False,
        "server_header": False,
        "access_log": False,
        "log_level": "warning",
    }


def _add_error_pages(app: FastAPI, house: House) -> None:
    async def page_error(request: Request, error: Exception) -> Response:
        assert isinstance(error, PageError)
        return await asyncio.to_thread(_error_page, house, error.status, error.heading, error.sentence)

    async def http_error(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        heading, sentence = SAID.get(error.status_code, ("Refused", str(error.detail)))
        return await asyncio.to_thread(_error_page, house, error.status_code, heading, sentence)

    async def store_error(request: Request, error: Exception) -> Response:
        sentence = str(error)
        if request.scope["path"] in OPEN_TO_ALL:
            logger.warning("%s", error)
            sentence = TROUBLE
        return _error_page(house, 503, "Not just now", f"{sentence} Try again in a minute.", known_visitor=False)

    async def odd_address(request: Request, error: Exception) -> Response:
        return await asyncio.to_thread(_error_page, house, 404, *SAID[404])

    async def gone(request: Request, error: Exception) -> Response:
        return Response(status_code=400)  # nobody is there to read it

    async def any_error(request: Request, error: Exception) -> Response:
        answer = _error_page(house, 500, *SAID[500], known_visitor=False)
        answer.headers.update(HEADERS)  # this answer is given outside of the guard
        return answer

    app.add_exception_handler(PageError, page_error)
    app.add_exception_handler(HTTPException, http_error)
    app.add_exception_handler(ClientDisconnect, gone)
    app.add_exception_handler(RequestValidationError, odd_address)
    app.add_exception_handler(StoreError, store_error)
    app.add_exception_handler(Exception, any_error)


def _error_page(house: House, status: int, heading: str, sentence: str, known_visitor: bool = True) -> Response:
    """The error page; whose repeater it is only for whoever may know. Where the store can't even say that, it goes
    without.
    """
    repeater, signed_in = "", False
    if known_visitor:
        try:
            station = house.source.station()
            repeater, signed_in = f"{station.callsign} {station.name}".strip(), house.signed_in()
        except StoreError:
            known_visitor = False
    view = ErrorView(
        shell=house.links.shell(heading, repeater, None, signed_in, nav=known_visitor),
        heading=heading,
        says=visible(sentence, 600),
        onward=Link("See how it stands now", house.links.to("/")) if known_visitor else None,
    )
    answer = Response(house.draw("error.html", view), status, media_type=HTML, headers={"Cache-Control": "no-store"})
    if status == 503:
        answer.headers["Retry-After"] = "60"
    return answer
