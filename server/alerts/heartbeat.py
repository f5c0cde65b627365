"""The heartbeat: an address fetched every minute while all is well, so that somebody else notices a dead airtally."""

import base64
import http.client
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable

from server.service import Fault, Worker
from shared.redaction import place_of, redacted, secrets_of

PART = "heartbeat"
EVERY_S = 60.0
LOOK_AGAIN_S = 5.0  # while something does not work
LONGEST_S = 120.0  # over one beat
PATIENCE_S = 10.0
SAYS = "The heartbeat does not get through, so whoever watches for it will take airtally for dead."

Keep = Callable[[str | None], None]


def fetch(url: str) -> str | None:
    """Fetch an address; what went wrong in a few words, None if nothing did."""
    try:
        with urllib.request.urlopen(_request(url), timeout=PATIENCE_S) as answer:
            answer.read(1024)
    except urllib.error.HTTPError as error:
        return f"it answered {error.code}"
    except (
        OSError,
        ValueError,
        http.client.HTTPException,
    ) as error:  # the last two quote the address, which may hold a token
        said = str(getattr(error, "reason", error)) or type(error).__name__
        return redacted(said, secrets_of(url, place_of(url)))[:300]
    return None


def _request(url: str) -> urllib.request.Request:
    """A user and password in the address go as HTTP Basic (RFC 7617), which the library does not do by itself, and to
    no other address that it is sent on to. Raises ValueError.
    """
    parts = urllib.parse.urlsplit(url)
    user, at, place = parts.netloc.rpartition("@")
    request = urllib.request.Request(urllib.parse.urlunsplit(parts._replace(netloc=place)) if at else url)
    if at:
        given = base64.b64encode(urllib.parse.unquote_to_bytes(user)).decode()
        request.add_unredirected_header("Authorization", f"Basic {given}")
    return request


class Heartbeat:
    """Fetches the address in a thread of its own, so that a slow one delays nothing. `all_is_well` is asked before each
    beat.
    """

    def __init__(
        self, url: str, all_is_well: Callable[[], bool], every_s: float = EVERY_S, keep: Keep = lambda _: None
    ) -> None:
        """`keep` is told why beats don't get through, and None once they do: whenever that changes."""
        self._url = url
        self._all_is_well = all_is_well
        self._every_s = every_s
        self._keep = keep
        self._kept: str | None = "not known yet"
        self.worker = Worker(PART, "The heartbeat", self._round, LONGEST_S)

    def _round(self) -> float:
        if not self._all_is_well():
            return min(self._every_s, LOOK_AGAIN_S)
        trouble = fetch(self._url)
        told = self.worker.remark
        self.worker.remark = Fault(PART, SAYS, f"{place_of(self._url)}: {trouble}") if trouble is not None else None
        if trouble is not None and told is None:
            self.worker.tell(f"{SAYS} {place_of(self._url)}: {trouble}; it is tried again every minute.")
        elif trouble is None and told is not None:
            self.worker.tell("The heartbeat gets through again.")
        if trouble != self._kept:
            self._keep(trouble)
            self._kept = trouble
        return self._every_s
