"""The page of a page that can't be shown."""

import asyncio
import logging
from dataclasses import dataclass

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response

from server.telling.outside import VisibleText, visible
from server.web.api.errors import is_for_programs, refusal
from server.web.guard import HEADERS, OPEN_TO_ALL, TROUBLE
from server.web.house import House, PageError
from server.web.rendering import HTML
from server.web.shell import Link, Shell
from shared.errors import StoreError

logger = logging.getLogger(__name__)
#: What such a page says where nobody said more: status -> (heading, sentence).
SENTENCES = {
    404: ("No such page", "There is nothing at this address."),
    405: ("Not here", "This address does not accept that kind of request."),
    500: ("Something went wrong", "This page could not be made; the log of `airtally serve` has more."),
}
FOR_PROGRAMS = "This answer could not be made; the log of `airtally serve` has more."


@dataclass(frozen=True)
class ErrorView:
    """What error.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    heading: str  #: what happened, in a few words
    says: tuple[VisibleText, ...]  #: what, where, why
    onward: Link | None  #: where to go


def add_error_pages(app: FastAPI, house: House) -> None:
    """Every error that leaves a route becomes a page."""

    async def page_error(request: Request, error: Exception) -> Response:
        assert isinstance(error, PageError)
        return await asyncio.to_thread(error_page, house, error.status, error.heading, error.sentence)

    async def http_error(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        heading, sentence = SENTENCES.get(error.status_code, ("Refused", str(error.detail)))
        if is_for_programs(request.scope["path"]):
            return refusal(error.status_code, sentence, dict(error.headers or {}))
        return await asyncio.to_thread(error_page, house, error.status_code, heading, sentence)

    async def store_error(request: Request, error: Exception) -> Response:
        sentence = str(error)
        if request.scope["path"] in OPEN_TO_ALL:
            logger.warning("%s", error)
            sentence = TROUBLE
        if is_for_programs(request.scope["path"]):
            return refusal(503, sentence, {"Retry-After": "60"})
        return error_page(house, 503, "Not just now", f"{sentence} Try again in a minute.", known_visitor=False)

    async def odd_address(request: Request, error: Exception) -> Response:
        return await asyncio.to_thread(error_page, house, 404, *SENTENCES[404])

    async def gone(request: Request, error: Exception) -> Response:
        return Response(status_code=400)  # nobody is there to read it

    async def any_error(request: Request, error: Exception) -> Response:
        if is_for_programs(request.scope["path"]):
            return refusal(500, FOR_PROGRAMS, dict(HEADERS))
        answer = error_page(house, 500, *SENTENCES[500], known_visitor=False)
        answer.headers.update(HEADERS)  # this answer is given outside of the guard
        return answer

    app.add_exception_handler(PageError, page_error)
    app.add_exception_handler(HTTPException, http_error)
    app.add_exception_handler(ClientDisconnect, gone)
    app.add_exception_handler(RequestValidationError, odd_address)
    app.add_exception_handler(StoreError, store_error)
    app.add_exception_handler(Exception, any_error)


def error_page(house: House, status: int, heading: str, sentence: str, known_visitor: bool = True) -> Response:
    """The error page; whose repeater it is only for whoever may know. Where the store can't even say that, it goes
    without.
    """
    shell, onward = house.links.shell(heading, "", None, False, nav=False), None
    if known_visitor:
        try:
            frame = house.frame()
            shell, onward = frame.shell(heading, None), frame.link("See how it stands now", "/")
        except StoreError:
            logger.debug("The page of an error goes without the name of the repeater.")
    view = ErrorView(shell, heading, visible(sentence, 600), onward)
    answer = Response(house.draw("error.html", view), status, media_type=HTML, headers={"Cache-Control": "no-store"})
    if status == 503:
        answer.headers["Retry-After"] = "60"
    return answer
