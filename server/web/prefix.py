"""The path under which a proxy shows the pages, taken off: whether the proxy passes it on or takes it off itself."""

from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Receive, Scope, Send


class UnderPrefix:
    """Inside of this, paths have no prefix. The prefix without its slash leads to the front page."""

    def __init__(self, app: ASGIApp, prefix: str) -> None:
        self._app, self._prefix = app, prefix

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        prefix = self._prefix
        if prefix and scope["type"] == "http":
            path = scope["path"]
            if path == prefix:
                await RedirectResponse(prefix + "/", 308)(scope, receive, send)
                return
            if path.startswith(prefix + "/"):
                scope = {**scope, "path": path[len(prefix) :]}
        await self._app(scope, receive, send)
