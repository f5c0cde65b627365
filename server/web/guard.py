"""Who may see a page, and the headers that every answer carries. Pure ASGI, outside of everything but the proxy's
headers.
"""

import logging
from collections.abc import Awaitable, Callable
from urllib.parse import quote, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.web.api.bearer import Bearers
from server.web.api.errors import is_for_programs
from server.web.listening import WebOptions, host_only, is_loopback
from server.web.sign.auth import Sessions, has_password
from shared.errors import StoreError

logger = logging.getLogger(__name__)
SESSION_COOKIE = "airtally_session"
POLICY = (
    "default-src 'none'; style-src 'self'; img-src 'self' data:; form-action 'self'; frame-ancestors 'none'; "
    "base-uri 'none'"
)
#: The one page with a script: its own file and the plotting library's, from here. What the library writes into the page
#: are rules and attributes of style.
DRAWN = "/explore"
DRAWN_POLICY = POLICY.replace(
    "style-src 'self'", "style-src 'self' 'unsafe-inline'; script-src 'self'; connect-src 'self'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",  # `no-referrer` would turn the Origin of our own forms into `null`
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Robots-Tag": "noindex",
}
#: To a stranger: the sentence of the error itself may name paths, it goes to the log.
TROUBLE = "The store can't be read at the moment; the log of `airtally serve` says why."
OPEN_TO_ALL = ("/login", "/health")
Refuse = Callable[[Scope, int, str, str], Awaitable[Response]]


class Guard:
    """Without a password only loopback is served; with one, whoever has signed in, and programs with a token what is
    for programs.
    """

    def __init__(self, app: ASGIApp, options: WebOptions, sessions: Sessions, refuse: Refuse) -> None:
        self._app, self._options, self._sessions, self._refuse = app, options, sessions, refuse
        self._bearers = Bearers(options.folder)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        path = scope["path"]

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                if path == DRAWN:
                    headers["Content-Security-Policy"] = DRAWN_POLICY
                headers.setdefault("Cache-Control", "private, no-store")
            await send(message)

        answer = await self._refusal(scope)
        await (answer or self._app)(scope, receive, send_with_headers)

    async def _refusal(self, scope: Scope) -> Response | None:
        """The answer to whoever may not pass; None for the others."""
        path = scope["path"]
        if not scope[
            "query_string"
        ].isascii():  # RFC 3986, 2: an address is of ASCII; what else it says is percent-encoded
            return await self._refuse(scope, 400, "No such address", "This address is not spelt as addresses are.")
        if path in OPEN_TO_ALL or path.startswith("/static/"):
            return None
        headers = Headers(scope=scope)
        try:
            if not has_password(self._options.folder):
                return await self._loopback_only(scope, headers)
            if self._sessions.good(Request(scope).cookies.get(SESSION_COOKIE)):
                return None
            if is_for_programs(path):
                return self._bearers.answer(scope)
        except StoreError as trouble:
            logger.warning("%s", trouble)
            return await self._refuse(scope, 503, "Not just now", TROUBLE)
        if scope["method"] not in ("GET", "HEAD"):
            return await self._refuse(scope, 403, "Not signed in", "Sign in first, then try again.")
        query = scope["query_string"].decode("latin-1")
        then = quote(path + (f"?{query}" if query else ""), safe="/")
        where = f"{self._options.path_prefix}/login" + (f"?then={then}" if then not in ("", "/") else "")
        return RedirectResponse(where, 303)

    async def _loopback_only(self, scope: Scope, headers: Headers) -> Response | None:
        """A page of some other site could make a browser here ask us under that site's name (DNS rebinding), and a
        proxy could show us to everybody: without a password we answer to this machine's own names only.
        """
        forwarded = "x-forwarded-for" in headers or "forwarded" in headers
        if not forwarded and is_loopback(host_only(headers.get("host", ""))):
            return None
        return await self._refuse(
            scope,
            421,
            "A password is needed here",
            "No password is set, so these pages answer on this machine's own address only, such as "
            "http://127.0.0.1:8087/. "
            "To reach them from elsewhere, set a password with `airtally password`.",
        )


def from_our_own_page(request: Request) -> bool:
    """Whether a form was sent from a page of ours, as the browser says (Fetch metadata, or Origin). A browser that says
    neither is left to the form's token.
    """
    site = request.headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = request.headers.get("origin")
    if origin is None:
        return True
    parts = urlsplit(origin)
    return parts.scheme == request.url.scheme and parts.netloc == request.headers.get("host", "")
