"""Signing in and out."""

import asyncio
import math
import time
from dataclasses import dataclass, field
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from server.telling.numbers import minutes_to_wait
from server.web.guard import SESSION_COOKIE
from server.web.house import READ, House, Housed
from server.web.sign.auth import SESSION_S, check, has_password
from server.web.sign.forms import TOO_LONG_OPEN, form_page, is_good, posted, set_cookie
from server.web.sign.throttle import Throttle
from server.web.sign.view import sign_in_view, sign_out_view

routes = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class Door:
    """Checking a password takes memory and time on purpose: one at a time, and not too often from one address."""

    throttle: Throttle = field(default_factory=Throttle)
    one_at_a_time: asyncio.Semaphore = field(default_factory=lambda: asyncio.Semaphore(1))

    def wait_s(self, house: House, address: str) -> float:
        """How long an address has to wait; 0 where it may try now."""
        self.throttle.under(house.sessions.password_in_force())
        return self.throttle.wait_s(address, time.monotonic())

    async def opens(self, house: House, address: str, password: str) -> bool:
        """Whether this is the password."""
        self.throttle.attempt(address, time.monotonic())
        async with self.one_at_a_time:
            right = await asyncio.to_thread(check, house.options.folder, password)
        if right:
            self.throttle.right(address)
        return right


async def _door_of(request: Request) -> Door:
    door: Door = request.app.state.door
    return door


@routes.api_route("/login", methods=READ)
def login_page(request: Request, house: Housed, then: str = "/") -> Response:
    if not has_password(house.options.folder) or house.sessions.good(request.cookies.get(SESSION_COOKIE)):
        return house.go_to("/")
    return _sign_in(house, request, _own_path(then))


@routes.post("/login")
async def login(request: Request, house: Housed, door: Annotated[Door, Depends(_door_of)]) -> Response:
    fields = await posted(request)
    then = _own_path(fields.get("then", "/"))
    if not is_good(house, request, "login", fields):
        return _sign_in(house, request, then, TOO_LONG_OPEN, 400)
    address = request.client.host if request.client else ""
    if wait := door.wait_s(house, address):
        sentence = f"Too many attempts from your address: wait {minutes_to_wait(wait)}, then try again."
        answer = _sign_in(house, request, then, sentence, 429)
        answer.headers["Retry-After"] = str(math.ceil(wait))
        return answer
    if not await door.opens(house, address, fields.get("password", "")):
        return _sign_in(house, request, then, "That is not the password.", 401)
    answer = house.go_to(then)
    set_cookie(house, answer, request, SESSION_COOKIE, house.sessions.issue(), SESSION_S)
    return answer


@routes.api_route("/logout", methods=READ)
def logout_page(request: Request, house: Housed) -> Response:
    if not has_password(house.options.folder):
        return house.go_to("/")
    return _sign_out(house, request)


@routes.post("/logout")
async def logout(request: Request, house: Housed) -> Response:
    fields = await posted(request)
    if not is_good(house, request, "logout", fields):
        return _sign_out(house, request, "This form was open for too long: try again.", 400)
    house.sessions.end(request.cookies.get(SESSION_COOKIE))
    answer = house.go_to("/login")
    answer.delete_cookie(SESSION_COOKIE, path=house.options.path_prefix or "/")
    return answer


def _sign_in(house: House, request: Request, then: str, trouble: str = "", status: int = 200) -> Response:
    def view(token: str) -> object:
        return sign_in_view(house.links, token, then, trouble)

    return form_page(house, request, "login", "sign.html", view, status)


def _sign_out(house: House, request: Request, trouble: str = "", status: int = 200) -> Response:
    def view(token: str) -> object:
        return sign_out_view(house.links, token, trouble)

    return form_page(house, request, "logout", "sign.html", view, status)


def _own_path(then: str) -> str:
    """The page to go on to: a path of ours, never another site's."""
    odd = "\\" in then or any(ord(character) < 33 or ord(character) > 126 for character in then)
    return "/" if odd or not then.startswith("/") or then.startswith("//") or len(then) > 512 else then
