"""The dead man's ping: an address fetched every minute while all is well, so that somebody else notices a dead airtally."""

import http.client
import threading
import urllib.error
import urllib.request
from collections.abc import Callable

from shared.redaction import place_of, redacted, secrets_of

EVERY_S = 60.0
PATIENCE_S = 10.0


def fetch(url: str) -> str | None:
    """Fetch an address; what went wrong in a few words, None if nothing did."""
    try:
        with urllib.request.urlopen(url, timeout=PATIENCE_S) as answer:
            answer.read(1024)
    except urllib.error.HTTPError as error:
        return f"it answered {error.code}"
    except (OSError, ValueError, http.client.HTTPException) as error:  # the last two quote the address, which may hold a token
        said = str(getattr(error, "reason", error)) or type(error).__name__
        return redacted(said, secrets_of(url, place_of(url)))[:300]
    return None


class DeadMan:
    """Pings in a thread of its own, so that a slow address delays nothing. `all_is_well` is asked before each ping."""

    def __init__(self, url: str, all_is_well: Callable[[], bool], every_s: float = EVERY_S) -> None:
        self._url = url
        self._all_is_well = all_is_well
        self._every_s = every_s
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="ping", daemon=True)
        self.trouble: str | None = None  #: why the last ping did not get through

    def start(self) -> None:
        if self._url:
            self._thread.start()

    def stop(self) -> None:
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(timeout=PATIENCE_S + 1)

    def _run(self) -> None:
        while not self._stop.is_set():
            if self._all_is_well():
                self.trouble = fetch(self._url)
            self._stop.wait(self._every_s)
