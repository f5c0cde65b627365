"""Random requests with right tokens at every route and form: none may be answered with a failure of the server. Short
under pytest (tests/web).
"""

import tempfile
import time
from pathlib import Path

REQUESTS, SEED = 50_000, 7


def run(full: bool) -> str:
    """The section for the results; raises AssertionError where a request was answered with 5xx, with nothing or after
    half a minute.
    """
    from tests.web.fuzz import fuzz

    requests = REQUESTS if full else 1_000
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        found = fuzz(Path(folder), requests, SEED)
    assert not found.wrong, "\n".join(found.wrong[:20])
    answers = ", ".join(f"{count:,} × {status}" for status, count in sorted(found.statuses.items()))
    return "\n".join(
        [
            "## Random requests at the pages",
            "",
            (
                f"{found.requests:,} requests from seed {SEED}, in-process, at {len(found.routes - {''})} routes:"
                f" {answers}. None was answered with 5xx; the slowest took {found.slowest_s:.1f} s, all together"
                f" {time.monotonic() - began:.0f} s."
            ),
        ]
    )
