"""Small forms: each carries a token tied to a cookie of its visitor's own, and must come from a page of ours."""

import secrets
from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import parse_qs

from starlette.requests import Request
from starlette.responses import Response

from server.web.guard import from_our_own_page
from server.web.house import House, PageError
from server.web.rendering import HTML
from server.web.sign.auth import FORM_S

FORM_COOKIE = "airtally_form"
LARGEST_FORM = 8192  # bytes
#: What a visitor reads whose token is no longer good.
TOO_LONG_OPEN = "This form was open for too long, or cookies are off: try again."


def form_page(
    house: House, request: Request, purpose: str, template: str, view: Callable[[str], Any], status: int = 200
) -> Response:
    """A page with a form; the view gets the form's token. Not kept: the token is its visitor's own."""
    visitor = request.cookies.get(FORM_COOKIE) or secrets.token_urlsafe(18)
    body = house.draw(template, view(house.sessions.form_token(purpose, visitor)))
    answer = Response(body, status, media_type=HTML, headers={"Cache-Control": "no-store"})
    set_cookie(house, answer, request, FORM_COOKIE, visitor, FORM_S)
    return answer


def is_good(house: House, request: Request, purpose: str, fields: Mapping[str, Any]) -> bool:
    """Whether a form's token is the one that its page gave to this visitor."""
    return house.sessions.form_good(purpose, request.cookies.get(FORM_COOKIE), str(fields.get("token", "")))


def set_cookie(house: House, answer: Response, request: Request, name: str, value: str, age_s: int) -> None:
    answer.set_cookie(
        name,
        value,
        max_age=age_s,
        path=house.options.path_prefix or "/",
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
    )


def require_own_page(request: Request) -> None:
    """PageError where a form came from a page of another site."""
    if not from_our_own_page(request):
        raise PageError(
            403, "Refused", "This form came from another site's page: open these pages and try again there."
        )


async def posted(request: Request) -> dict[str, str]:
    """The fields of a small form from a page of ours. PageError where it is neither."""
    require_own_page(request)
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
