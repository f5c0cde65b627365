"""The addresses of the Transmitter page, and of taking note of an incident."""

import asyncio
import re
import secrets

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from server.telling.moments import instant_words
from server.web.pages import PRIVATE, READ, House, PageError
from server.web.rendering import HTML, Rendered
from server.web.sign.auth import FORM_S, Sessions
from server.web.sign.routes import FORM_COOKIE, posted, set_cookie
from server.web.transmitter.view import MINUTES, Question, note_view, transmitter_view
from shared.zones import SECOND


def transmitter_routes(house: House, sessions: Sessions) -> APIRouter:
    """Everything under /transmitter."""
    routes = APIRouter(include_in_schema=False)

    @routes.api_route("/transmitter", methods=READ)
    async def transmitter(request: Request) -> Response:
        def made() -> Rendered:
            question = _question(request)
            now = house.source.now() // (60 * SECOND) * 60 * SECOND
            key = ("transmitter", question, now, house.source.alerts().stamp())
            return house.page(
                key,
                "transmitter.html",
                lambda signed: transmitter_view(house.source, question, now, house.links, signed),
            )

        return (await asyncio.to_thread(made)).answer(request, HTML, PRIVATE)

    def note_form(request: Request, number: int, trouble: str = "", status: int = 200) -> Response:
        """Not kept: the form has a token of its visitor's own."""
        state = house.source.alerts().incident(number) if 0 < number < 1 << 63 else None  # a store counts no further
        station = house.source.station()
        if state is None:
            raise PageError(404, "No such incident", f"There is no incident {number}.")
        visitor = request.cookies.get(FORM_COOKIE) or secrets.token_urlsafe(18)
        token = sessions.form_token(f"note {number}", visitor)
        when = instant_words(state.raised, station.zone)
        repeater = f"{station.callsign} {station.name}".strip()
        view = note_view(state, token, trouble, repeater, when, house.links, house.signed_in())
        answer = Response(
            house.draw("transmitter_note.html", view), status, media_type=HTML, headers={"Cache-Control": "no-store"}
        )
        set_cookie(answer, request, FORM_COOKIE, visitor, FORM_S, house.options.path_prefix)
        return answer

    @routes.api_route("/transmitter/note/{number}", methods=READ)
    async def note_page(request: Request, number: int) -> Response:
        return await asyncio.to_thread(note_form, request, number)

    @routes.post("/transmitter/note/{number}")
    async def note(request: Request, number: int) -> Response:
        said = await posted(request)
        if not 0 < number < 1 << 63:
            raise PageError(404, "No such incident", f"There is no incident {number}.")
        if not sessions.form_good(f"note {number}", request.cookies.get(FORM_COOKIE), said.get("token")):
            return await asyncio.to_thread(
                note_form, request, number, "This form was open for too long, or cookies are off: try again.", 400
            )
        if not await asyncio.to_thread(house.source.alerts().acknowledge, number, house.source.now()):
            raise PageError(404, "No such incident", f"There is no incident {number}.")
        return RedirectResponse(house.links.to("/transmitter"), 303)

    return routes


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
