"""The addresses of the Sharing pages: sharing, replay, planning, changes."""

import asyncio
import secrets
from collections.abc import Callable, Mapping

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from server.analytics.replay_curves import Curve
from server.web.pages import PRIVATE, READ, House, PageError
from server.web.rendering import HTML, Rendered
from server.web.sharing.changes_view import change_lines, changes_view
from server.web.sharing.planning_view import planning_view
from server.web.sharing.replay_view import LONGEST_S, ReplayView, hold_curves, replay_view
from server.web.sharing.view import sharing_view
from server.web.sharing.window import Stretch, chosen_stretch
from server.web.sign.auth import FORM_S, Sessions
from server.web.sign.routes import FORM_COOKIE, posted, set_cookie
from shared.events import MODES
from shared.zones import DAY, HOUR, instant

Query = Mapping[str, str]


def sharing_routes(house: House, sessions: Sessions) -> APIRouter:
    """Everything under /sharing."""
    routes = APIRouter(include_in_schema=False)
    last_curves: dict[tuple[str, str], tuple[Curve, ...]] = {}

    def curves_of(stretch: Stretch) -> tuple[Curve, ...]:
        """Kept for the days asked about last: whoever tries other timers asks for the same days again. Pages are made
        one at a time.
        """
        key = (house.source.version(), stretch.query)
        if key not in last_curves:
            found = hold_curves(house.source, stretch)
            last_curves.clear()
            last_curves[key] = found
        return last_curves[key]

    async def answered(request: Request, made: Callable[[], Rendered]) -> Response:
        return (await asyncio.to_thread(made)).answer(request, HTML, PRIVATE)

    @routes.api_route("/sharing", methods=READ)
    async def sharing(request: Request) -> Response:
        def made() -> Rendered:
            stretch = _stretch(house, request.query_params)
            key = ("sharing", stretch.query, house.source.now() // HOUR)
            return house.page(
                key, "sharing.html", lambda signed: sharing_view(house.source, stretch, house.links, signed)
            )

        return await answered(request, made)

    @routes.api_route("/sharing/replay", methods=READ)
    async def replay(request: Request) -> Response:
        def made() -> Rendered:
            asked = request.query_params
            stretch = _stretch(house, asked)
            given = {
                mode: _number(asked[f"hold_{mode}"], f"hold of {mode}", 0)
                for mode in MODES
                if asked.get(f"hold_{mode}", "").strip()
            }
            timeout = _number(asked["timeout"], "time-out", 0.001) if asked.get("timeout", "").strip() else None
            key = ("replay", stretch.query, tuple(sorted(given.items())), timeout)

            def view(signed: bool) -> ReplayView:
                return replay_view(house.source, stretch, given, timeout, curves_of(stretch), house.links, signed)

            return house.page(key, "sharing_replay.html", view)

        return await answered(request, made)

    @routes.api_route("/sharing/planning", methods=READ)
    async def planning(request: Request) -> Response:
        def made() -> Rendered:
            asked = request.query_params
            stretch = _stretch(house, asked)
            mode = asked.get("mode") or None
            if mode is not None and mode not in MODES:
                raise PageError(
                    400, "No such mode", "The mode is none of those that the pages know: choose one from the list."
                )
            hours = (_hour(asked["begin"]), _hour(asked.get("end", ""))) if asked.get("begin") else None
            key = ("planning", stretch.query, mode, hours)
            return house.page(
                key,
                "sharing_planning.html",
                lambda signed: planning_view(house.source, stretch, mode, hours, house.links, signed),
            )

        return await answered(request, made)

    def changes_form(request: Request, trouble: str = "", on: str = "", note: str = "", status: int = 200) -> Response:
        """Not kept: the form has a token of its visitor's own."""
        visitor = request.cookies.get(FORM_COOKIE) or secrets.token_urlsafe(18)
        token = sessions.form_token("changes", visitor)
        view = changes_view(
            house.source, change_lines(house.source), house.links, house.signed_in(), token, trouble, on, note
        )
        answer = Response(
            house.draw("sharing_changes.html", view), status, media_type=HTML, headers={"Cache-Control": "no-store"}
        )
        set_cookie(answer, request, FORM_COOKIE, visitor, FORM_S, house.options.path_prefix)
        return answer

    @routes.api_route("/sharing/changes", methods=READ)
    async def changes(request: Request) -> Response:
        return await asyncio.to_thread(changes_form, request)

    @routes.post("/sharing/changes")
    async def enter(request: Request) -> Response:
        said = await posted(request)
        on, note = said.get("on", ""), said.get("note", "")
        if not sessions.form_good("changes", request.cookies.get(FORM_COOKIE), said.get("token")):
            trouble = "This form was open for too long, or cookies are off: try again."
            return await asyncio.to_thread(changes_form, request, trouble, on, note, 400)
        try:
            await asyncio.to_thread(_enter, house, on, note)
        except ValueError as error:
            return await asyncio.to_thread(changes_form, request, str(error), on, note, 400)
        return RedirectResponse(house.links.to("/sharing/changes"), 303)

    return routes


def _stretch(house: House, asked: Query) -> Stretch:
    try:
        return chosen_stretch(house.source, asked.get("first"), asked.get("last"))
    except ValueError as error:
        raise PageError(400, "No such days", str(error)) from None


def _number(text: str, what: str, least: float) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not least <= value <= LONGEST_S:
        raise PageError(
            400,
            "No such timer",
            f"The {what} must be a number of seconds up to {LONGEST_S:g}: change it and try again.",
        )
    return value


def _hour(text: str) -> int:
    if not text.isdecimal() or not text.isascii() or not 0 <= int(text[:4]) <= 23:
        raise PageError(400, "No such hour", "Hours go from 0 to 23: choose them from the lists.")
    return int(text)


def _enter(house: House, on: str, note: str) -> None:
    """Keep a change. ValueError with a sentence where day or note can't be used."""
    try:
        at = instant(on if len(on) == 10 else "", house.source.station().zone)
    except (ValueError, OverflowError):
        raise ValueError("Give the day of the change, such as 2026-11-02.") from None
    if at > house.source.now() + DAY:
        raise ValueError("That day is still to come: enter the change once it is made.")
    house.source.add_timer_change(at, note)
