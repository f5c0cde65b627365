"""The heartbeat: an address fetched every minute while all is well, so that somebody else notices a dead airtally."""

import http.client
import urllib.error
import urllib.request
from collections.abc import Callable

from server.service import Worker
from shared.redaction import place_of, redacted, secrets_of

PART = "heartbeat"
EVERY_S = 60.0
LOOK_AGAIN_S = 5.0  # while something does not work
LONGEST_S = 120.0  # over one beat
PATIENCE_S = 10.0


def fetch(url: str) -> str | None:
    """Fetch an address; what went wrong in a few words, None if nothing did."""
    try:
        with urllib.request.urlopen(url, timeout=PATIENCE_S) as answer:
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


class Heartbeat:
    """Fetches the address in a thread of its own, so that a slow one delays nothing. `all_is_well` is asked before each
    beat.
    """

    def __init__(self, url: str, all_is_well: Callable[[], bool], every_s: float = EVERY_S) -> None:
        self._url = url
        self._all_is_well = all_is_well
        self._every_s = every_s
        self.worker = Worker(PART, "The heartbeat", self._round, LONGEST_S)
        self.trouble: str | None = None  #: why the last beat did not get through

    def _round(self) -> float:
        if not self._all_is_well():
            return min(self._every_s, LOOK_AGAIN_S)
        self.trouble = fetch(self._url)
        return self._every_s
