"""No request is answered with a failure of the server. Whole (50,000 requests) by make bench."""

from pathlib import Path

import pytest

from tests.web.fuzz import fuzz


# A part of a form that breaks off leaves its scratch file to the collector (starlette closes whole parts only); it
# holds what was sent.
@pytest.mark.filterwarnings("ignore:Unclosed file <tempfile:ResourceWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_no_request_at_any_route_or_form_is_answered_with_a_failure(tmp_path: Path) -> None:
    found = fuzz(tmp_path, 1500, seed=1)
    assert not found.wrong, "\n".join(found.wrong[:20])
    assert (
        found.requests == 1500 and len(found.routes) > 15 and {200, 303, 400, 404, 405, 413} <= set(found.statuses)
    ), found.statuses
