"""The addresses of the Transmitter page, and of taking note of an incident."""

import asyncio
import re

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from server.telling.moments import instant_words
from server.web.house import READ, House, Housed, PageError
from server.web.sign.forms import TOO_LONG_OPEN, form_page, is_good, posted
from server.web.transmitter.duty import MINUTES
from server.web.transmitter.note_view import note_view
from server.web.transmitter.view import Question, transmitter_view

MOST = 1 << 63  # a store counts no further
routes = APIRouter(include_in_schema=False)


@routes.api_route("/transmitter", methods=READ)
def transmitter(request: Request, house: Housed) -> Response:
    question, now = _question(request), house.minute()
    key = ("transmitter", question, now, house.source.alerts().stamp())
    return house.answer(
        request, key, "transmitter.html", lambda frame: transmitter_view(house.source, question, now, frame)
    )


@routes.api_route("/transmitter/note/{number}", methods=READ)
def note_page(request: Request, house: Housed, number: int) -> Response:
    return _note_form(house, request, number)


@routes.post("/transmitter/note/{number}")
async def note(request: Request, house: Housed, number: int) -> Response:
    fields = await posted(request)
    if not 0 < number < MOST:
        raise _no_incident(number)
    if not is_good(house, request, f"note {number}", fields):
        return await asyncio.to_thread(_note_form, house, request, number, TOO_LONG_OPEN, 400)
    if not await asyncio.to_thread(house.source.alerts().acknowledge, number, house.source.now()):
        raise _no_incident(number)
    return house.go_to("/transmitter")


def _no_incident(number: int) -> PageError:
    return PageError(404, "No such incident", f"There is no incident {number}.")


def _note_form(house: House, request: Request, number: int, trouble: str = "", status: int = 200) -> Response:
    state, frame = house.source.alerts().incident(number) if 0 < number < MOST else None, house.frame()
    if state is None:
        raise _no_incident(number)
    when = instant_words(state.raised, frame.zone)
    return form_page(
        house,
        request,
        f"note {number}",
        "transmitter_note.html",
        lambda token: note_view(state, token, trouble, when, frame),
        status,
    )


def _question(request: Request) -> Question:
    asked = request.query_params
    width, hours, limit = asked.get("width", "6min"), asked.get("hours", "quiet"), asked.get("limit")
    if width not in MINUTES or hours not in ("quiet", "day"):
        raise PageError(
            400,
            "No such limit",
            "The form has 6, 30 and 60 minutes, in the quiet hours and by day: choose one of them.",
        )
    if limit is not None and not (re.fullmatch(r"[0-9]{1,3}", limit) and 1 <= int(limit) <= 100):
        raise PageError(400, "No such limit", "The limit is a whole number of percent from 1 to 100.")
    return Question(width, hours == "quiet", None if limit is None else int(limit))
