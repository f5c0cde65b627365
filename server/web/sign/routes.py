"""Signing in and out."""

import asyncio
import math
import secrets
import time
from urllib.parse import parse_qs

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from server.web.guard import SESSION_COOKIE, from_our_own_page
from server.web.intake.view import SignView
from server.web.pages import READ, House, PageError
from server.web.rendering import HTML
from server.web.sign.auth import FORM_S, SESSION_S, Sessions, check, has_password
from server.web.sign.throttle import Throttle

FORM_COOKIE = "airtally_form"
LARGEST_FORM = 8192  # bytes


def sign_routes(house: House, sessions: Sessions) -> APIRouter:
    """/login and /logout. Forms carry a token tied to a cookie of their own, and must come from a page of ours."""
    routes = APIRouter(include_in_schema=False)
    throttle, one_at_a_time = Throttle(), asyncio.Semaphore(1)  # checking a password takes memory and time on purpose
    folder, prefix = house.options.folder, house.options.path_prefix

    def form(request: Request, signing_out: bool, then: str, trouble: str = "", status: int = 200) -> Response:
        purpose = "logout" if signing_out else "login"
        visitor = request.cookies.get(FORM_COOKIE) or secrets.token_urlsafe(18)
        view = SignView(
            shell=house.links.shell(
                "Sign out" if signing_out else "Sign in", "", "/logout", signing_out, nav=signing_out
            ),
            signing_out=signing_out,
            action=house.links.to(f"/{purpose}"),
            token=sessions.form_token(purpose, visitor),
            then=then,
            trouble=trouble,
        )
        answer = Response(house.draw("sign.html", view), status, media_type=HTML, headers={"Cache-Control": "no-store"})
        set_cookie(answer, request, FORM_COOKIE, visitor, FORM_S, prefix)
        return answer

    @routes.api_route("/login", methods=READ)
    async def login_page(request: Request, then: str = "/") -> Response:
        if not has_password(folder) or sessions.good(request.cookies.get(SESSION_COOKIE)):
            return RedirectResponse(house.links.to("/"), 303)
        return form(request, False, _own_path(then))

    @routes.post("/login")
    async def login(request: Request) -> Response:
        said = await posted(request)
        then = _own_path(said.get("then", "/"))
        if not sessions.form_good("login", request.cookies.get(FORM_COOKIE), said.get("token")):
            return form(request, False, then, "This form was open for too long, or cookies are off: try again.", 400)
        throttle.under(sessions.password_in_force())
        address = request.client.host if request.client else ""
        wait = throttle.wait_s(address, time.monotonic())
        if wait:
            minutes = math.ceil(wait / 60)
            sentence = f"Too many attempts from your address: wait {minutes} min, then try again."
            answer = form(request, False, then, sentence, 429)
            answer.headers["Retry-After"] = str(math.ceil(wait))
            return answer
        throttle.attempt(address, time.monotonic())
        async with one_at_a_time:
            right = await asyncio.to_thread(check, folder, said.get("password", ""))
        if not right:
            return form(request, False, then, "That is not the password.", 401)
        throttle.right(address)
        answer = RedirectResponse(house.links.to(then), 303)
        set_cookie(answer, request, SESSION_COOKIE, sessions.issue(), SESSION_S, prefix)
        return answer

    @routes.api_route("/logout", methods=READ)
    async def logout_page(request: Request) -> Response:
        if not has_password(folder):
            return RedirectResponse(house.links.to("/"), 303)
        return form(request, True, "/")

    @routes.post("/logout")
    async def logout(request: Request) -> Response:
        said = await posted(request)
        if not sessions.form_good("logout", request.cookies.get(FORM_COOKIE), said.get("token")):
            return form(request, True, "/", "This form was open for too long: try again.", 400)
        sessions.end(request.cookies.get(SESSION_COOKIE))
        answer = RedirectResponse(house.links.to("/login"), 303)
        answer.delete_cookie(SESSION_COOKIE, path=prefix or "/")
        return answer

    return routes


def set_cookie(answer: Response, request: Request, name: str, value: str, age_s: int, prefix: str) -> None:
    answer.set_cookie(
        name,
        value,
        max_age=age_s,
        path=prefix or "/",
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
    )


def _own_path(then: str) -> str:
    """The page to go on to: a path of ours, never another site's."""
    odd = "\\" in then or any(ord(character) < 33 or ord(character) > 126 for character in then)
    return "/" if odd or not then.startswith("/") or then.startswith("//") or len(then) > 512 else then


async def posted(request: Request) -> dict[str, str]:
    """The fields of a small form from a page of ours. PageError where it is neither."""
    if not from_our_own_page(request):
        raise PageError(
            403, "Refused", "This form came from another site's page: open these pages and try again there."
        )
    body = b""
    async for piece in request.stream():
        body += piece
        if len(body) > LARGEST_FORM:
            raise PageError(413, "Too much", "The form holds more than these pages take.")
    try:
        fields = parse_qs(body.decode("utf-8"), keep_blank_values=True, max_num_fields=8)
    except ValueError:
        raise PageError(400, "Not a form", "What was sent can't be read as a form: try again.") from None
    return {name: values[0] for name, values in fields.items()}
