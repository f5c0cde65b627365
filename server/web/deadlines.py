"""What uvicorn has no word for: a request arrives within a time, an answer is taken within one, and so many connections
are open at once.

Where one more comes than may be open, whoever has waited longest without a whole request makes room; nobody who is
being answered does."""

import asyncio
import logging
import resource
import time
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 15.0  #: from the connection, or the end of the answer before, to the last byte of a head
SLOW_S = 20.0  #: what a body and an answer may take beside
SLOWEST = 4096  #: bytes a second
LONGEST_S = 1800.0  #: of any body or answer
LOOK_S = 1.0
BACKLOG = 64  # connections that are taken in one go, before any of them can be closed
HALF_OPEN, TAKING, SENDING, ANSWERING = range(4)  #: what a connection does, in the order in which they make room
logger = logging.getLogger("uvicorn.error")


def most_connections() -> int:
    """How many may be open: a quarter of the files that this process may have open, as the store and the logs need
    some.
    """
    soft, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    return 256 if soft == resource.RLIM_INFINITY else max(16, min(256, soft // 4))


class DeadlineProtocol(H11Protocol):
    """One connection, as uvicorn has it, with deadlines."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._since = self._began = self.loop.time()
        self._received = 0
        self._asked: Any = None  # the request that `_began` and `_received` are of
        self._dropped = False
        self._look_again = self.loop.call_later(LOOK_S, self._look)
        self._make_room()

    def connection_lost(self, exc: Exception | None) -> None:
        self._look_again.cancel()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        if self._dropped:
            return
        self._received += len(data)
        super().data_received(data)
        if self.cycle is not self._asked:
            self._asked, self._began, self._received = self.cycle, self.loop.time(), len(data)

    def on_response_complete(self) -> None:
        self._since = self._began = self.loop.time()
        super().on_response_complete()

    def _unsupported_upgrade_warning(self) -> None:
        """Whoever asks for a web socket gets the page: nothing to write a log full of."""

    def doing(self) -> int:
        """What this connection is at."""
        if self.cycle is None or self.cycle.response_complete:
            return TAKING if self.transport.get_write_buffer_size() else HALF_OPEN
        return SENDING if self.cycle.more_body else ANSWERING

    def drop(self) -> None:
        """End the connection now."""
        self._dropped = True
        self.transport.abort()

    def _look(self) -> None:
        self._look_again = self.loop.call_later(LOOK_S, self._look)
        doing, now = self.doing(), self.loop.time()
        if (doing == HALF_OPEN and now - self._since > HEAD_S) or (
            doing == SENDING and now - self._began > min(LONGEST_S, SLOW_S + self._received / SLOWEST)
        ):
            self._too_slow()
        elif doing == TAKING and now - self._began > min(
            LONGEST_S, SLOW_S + self.transport.get_write_buffer_size() / SLOWEST
        ):
            self.drop()

    def _too_slow(self) -> None:
        """408 (RFC 9110, 15.5.9) where no answer has begun, and the end."""
        if not self.transport.is_closing() and self.conn.our_state in (h11.IDLE, h11.SEND_RESPONSE) and self._received:
            self.transport.write(b"HTTP/1.1 408 Request Timeout\r\nConnection: close\r\nContent-Length: 0\r\n\r\n")
        if self.transport.get_write_buffer_size():
            self.drop()
        else:
            self._dropped = True
            self.transport.close()

    def _make_room(self) -> None:
        there = [one for one in self.connections if isinstance(one, DeadlineProtocol) and not one._dropped]
        if len(there) > most_connections():
            waiting = [one for one in there if one is not self and one.doing() != ANSWERING]
            min(waiting, key=lambda one: (one.doing(), one._since), default=self).drop()


class OnceAMinute(logging.Filter):
    """Lets each sentence through once a minute, so that nobody can write a log full of it."""

    def __init__(self, every_s: float = 60.0) -> None:
        super().__init__()
        self._every_s = every_s
        self._said: dict[str, float] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        now, sentence = time.monotonic(), str(record.msg)
        if record.exc_info or now - self._said.get(sentence, -self._every_s) >= self._every_s:
            self._said = {one: then for one, then in self._said.items() if now - then < self._every_s} | {sentence: now}
            return True
        return False


def quietly(loop: asyncio.AbstractEventLoop) -> None:
    """Tell on a loop's behalf, once a minute, that no connection can be taken for want of open files; without this
    asyncio writes a traceback for each try.
    """
    if not any(isinstance(one, OnceAMinute) for one in logger.filters):
        logger.addFilter(OnceAMinute())

    def tell(loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        if "accept" in context.get("message", ""):
            logger.warning("No more connections can be taken for the moment (%s).", context.get("exception"))
        else:
            loop.default_exception_handler(context)

    loop.set_exception_handler(tell)
