"""The pages as one ASGI application."""

import asyncio
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

import anyio.to_thread
from fastapi import FastAPI
from starlette.responses import Response
from starlette.types import Scope

from server.teaching.teacher import Teacher
from server.web import common_routes
from server.web.api import routes as api
from server.web.api.errors import is_for_programs, refusal
from server.web.api.metrics import Scrapes
from server.web.deadlines import BACKLOG, DeadlineProtocol, quietly
from server.web.definitions import definitions_file, render
from server.web.errors import add_error_pages, error_page
from server.web.explore import routes as explore
from server.web.explore.data import Looks
from server.web.guard import Guard
from server.web.handout import routes as handout
from server.web.house import House
from server.web.intake import routes as intake
from server.web.links import routes as links
from server.web.listening import WebOptions, listen_address
from server.web.moment import routes as moment
from server.web.month import routes as month
from server.web.notes import routes as notes
from server.web.now import routes as now
from server.web.prefix import UnderPrefix
from server.web.proxies import Proxies
from server.web.reception import routes as reception
from server.web.rendering import environment, fixed_files
from server.web.sharing import routes as sharing
from server.web.shell import Links
from server.web.sign import routes as sign
from server.web.sign.auth import Sessions
from server.web.source import Source
from server.web.teach import routes as teach
from server.web.teach.classroom import Classroom
from server.web.transmitter import routes as transmitter
from server.web.turns import PAGES, PROGRAMS, Turns
from server.web.week import routes as week

THREADS = PROGRAMS + PAGES + 2  #: that make answers; each may ask the store. Two are left to health and sign-in
#: Every page's routes. A new page is one entry here, and one in server/web/shell.py.
SLICES = (
    now,
    week,
    month,
    reception,
    sharing,
    transmitter,
    links,
    moment,
    notes,
    handout,
    intake,
    explore,
    sign,
    api,
    common_routes,
)


def create_app(source: Source, options: WebOptions, teacher: Teacher | None = None) -> FastAPI:
    """The application over a source; with a teacher there are the pages that teach logs. Reads templates, style sheet
    and definitions once.
    """
    paths, fixed = fixed_files()
    house = House(
        source=source,
        options=options,
        links=Links(options.path_prefix, paths),
        sessions=Sessions(options.folder),
        templates=environment(),
        definitions=render(definitions_file().read_text(encoding="utf-8")),
        fixed=fixed,
    )
    logging.getLogger("python_multipart").setLevel(
        logging.ERROR
    )  # a line for each odd byte of a form is not for the log
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None, redirect_slashes=False, lifespan=_running)
    app.state.house, app.state.door = house, sign.Door()
    app.state.hold_curves, app.state.scrapes = sharing.HoldCurves(source), Scrapes(source)
    app.state.looks = Looks(source)
    if teacher is not None:
        app.state.classroom = Classroom(teacher)
        app.include_router(teach.routes)  # its Intake page comes before the plain one
    for slice in SLICES:
        app.include_router(slice.routes)
    add_error_pages(app, house)

    async def refuse(scope: Scope, status: int, heading: str, sentence: str) -> Response:
        if is_for_programs(scope["path"]):
            return refusal(status, sentence)
        return error_page(house, status, heading, sentence, known_visitor=False)

    app.add_middleware(Turns, refuse=refuse)
    app.add_middleware(Guard, options=options, sessions=house.sessions, refuse=refuse)
    app.add_middleware(UnderPrefix, prefix=options.path_prefix)
    app.add_middleware(Proxies, trusted=options.trusted_proxy, folder=options.folder)
    return app


@asynccontextmanager
async def _running(app: FastAPI) -> AsyncIterator[None]:
    quietly(asyncio.get_running_loop())
    anyio.to_thread.current_default_thread_limiter().total_tokens = THREADS
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
