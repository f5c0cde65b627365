"""Tokens of programs: `Authorization: Bearer` (RFC 6750, sections 2.1 and 3, from memory)."""

import logging
import math
import time
from pathlib import Path

from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.types import Scope

from server.telling.numbers import minutes_to_wait
from server.web.api.errors import refusal
from server.web.sign.throttle import Throttle
from server.web.sign.tokens import token_good, tokens_in_force

logger = logging.getLogger(__name__)
HOW = "make one with `airtally password --token NAME` and send it as `Authorization: Bearer`"


class Bearers:
    """Who comes with a token. Wrong ones are throttled by address as passwords are; a token that is made or withdrawn
    lifts that.
    """

    def __init__(self, folder: Path) -> None:
        self._folder, self._throttle = folder, Throttle()

    def answer(self, scope: Scope) -> Response | None:
        """The answer to whoever may not pass; None where the token is good. Raises StoreError."""
        kind, _, text = Headers(scope=scope).get("authorization", "").partition(" ")
        if kind.lower() != "bearer" or not text.strip():
            return refusal(401, f"A token is needed here: {HOW}.", {"WWW-Authenticate": 'Bearer realm="airtally"'})
        self._throttle.under(tokens_in_force(self._folder))
        address, now = scope["client"][0] if scope.get("client") else "", time.monotonic()
        wait = self._throttle.wait_s(address, now)
        if wait:
            sentence = f"Too many wrong tokens from your address: wait {minutes_to_wait(wait)}, then try again."
            return refusal(429, sentence, {"Retry-After": str(math.ceil(wait))})
        if token_good(self._folder, text.strip()):
            self._throttle.right(address)
            return None
        self._throttle.attempt(address, now)
        sentence = f"This token is not known, or was withdrawn: {HOW}."
        return refusal(401, sentence, {"WWW-Authenticate": 'Bearer realm="airtally", error="invalid_token"'})
