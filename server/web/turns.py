"""Turns: how many answers are made at once. Programs and pages each wait in a line of their own, so that a crowd of the
one leaves the other its threads; health, sign-in and the fixed files never wait. Pure ASGI, inside of the guard.
"""

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import ExitStack
from enum import Enum, auto

from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.web.api.errors import is_for_programs, refusal
from server.web.guard import OPEN_TO_ALL, Refuse

PROGRAMS, PAGES = 2, 4  #: answers of each line that are made at once
PROGRAMS_WAIT_S, PAGES_WAIT_S = 5.0, 20.0
AGAIN_S = 10  #: when whoever was refused may ask again
BUSY = "More was asked at once than can be answered; ask again in a moment."
ENDING = "airtally is ending; ask again once it runs."
SCRIPT = "/explore/plotly."  #: a file, though of a package


class Outcome(Enum):
    """How a wait for a turn ended."""

    TURN, LATE, GONE = auto(), auto(), auto()


class Line:
    """A line of requests, first come, first served."""

    def __init__(self, at_once: int, wait_s: float) -> None:
        self._turns, self._wait_s = asyncio.Semaphore(at_once), wait_s

    async def wait(self, until_gone: Callable[[], Awaitable[None]]) -> Outcome:
        """Until it is this one's turn, its client is gone or it has waited for long. A turn is to be given back."""
        if not self._turns.locked():
            await self._turns.acquire()
            return Outcome.TURN
        turn = asyncio.ensure_future(self._turns.acquire())
        gone = asyncio.ensure_future(until_gone())
        outcome = Outcome.LATE
        try:
            await asyncio.wait((turn, gone), timeout=self._wait_s, return_when=asyncio.FIRST_COMPLETED)
            outcome = Outcome.GONE if gone.done() else Outcome.TURN if turn.done() else Outcome.LATE
        finally:
            gone.cancel()
            if outcome is not Outcome.TURN:
                turn.add_done_callback(lambda its: None if its.cancelled() else self.give_back())
                turn.cancel()
        return outcome

    def give_back(self) -> None:
        self._turns.release()


class Turns:
    """Lets requests in by turns. Where the server ends before an answer is made, it says so in place of the answer."""

    def __init__(self, app: ASGIApp, refuse: Refuse) -> None:
        self._app, self._refuse = app, refuse
        self._programs, self._pages = Line(PROGRAMS, PROGRAMS_WAIT_S), Line(PAGES, PAGES_WAIT_S)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        with ExitStack() as held:
            begun = False

            async def send_on(message: Message) -> None:
                nonlocal begun
                begun = True
                held.close()  # the answer is made: whoever takes it slowly holds up nobody
                await send(message)

            try:
                await self._in_turn(held, scope, receive, send_on)
            except asyncio.CancelledError:  # only the end of the server cancels an answer
                if not begun:
                    answer = await self._unanswered(scope, ENDING)
                    answer.headers["Connection"] = "close"
                    await answer(scope, receive, send)

    async def _in_turn(self, held: ExitStack, scope: Scope, receive: Receive, send: Send) -> None:
        line = self._line_of(scope)
        outcome = Outcome.TURN
        if line is not None:
            watched = Watched(receive)
            outcome, receive = await line.wait(watched.until_gone), watched.receive
            if outcome is Outcome.TURN:
                held.callback(line.give_back)
        if outcome is Outcome.TURN:
            await self._app(scope, receive, send)
        elif outcome is Outcome.LATE:
            await (await self._unanswered(scope, BUSY))(scope, receive, send)

    def _line_of(self, scope: Scope) -> Line | None:
        """A form that is sent waits in none: it is small work, and its body may be long in coming."""
        path = scope["path"]
        if scope["method"] not in ("GET", "HEAD") or path in OPEN_TO_ALL or path.startswith(("/static/", SCRIPT)):
            return None
        return self._programs if _gets_data(path) else self._pages

    async def _unanswered(self, scope: Scope, sentence: str) -> Response:
        answer = (
            refusal(503, sentence)
            if _gets_data(scope["path"])
            else await self._refuse(scope, 503, "Not just now", sentence)
        )
        answer.headers["Retry-After"] = str(AGAIN_S)
        return answer


class Watched:
    """What a client sends while it waits. The body of a GET has no meaning (RFC 9110, 9.3.1), so none is kept."""

    def __init__(self, receive: Receive) -> None:
        self._receive, self._came = receive, False

    async def until_gone(self) -> None:
        while (await self._receive())["type"] != "http.disconnect":
            self._came = True

    async def receive(self) -> Message:
        if self._came:
            self._came = False
            return {"type": "http.request", "body": b"", "more_body": False}
        return await self._receive()


def _gets_data(path: str) -> bool:
    """Whether an address gives data, as programs and Explore's script ask for."""
    return is_for_programs(path) or path.startswith("/explore/")
