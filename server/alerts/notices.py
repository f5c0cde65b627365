"""Notices: what speaks now, as messages."""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.alerts.states import Spoken
from server.telling.notices import TEST_BODY, TEST_TITLE, digest_body, digest_title, notice_body, notice_title


@dataclass(frozen=True)
class Notice:
    """One message. `incident_id` None: a digest of several."""

    incident_id: int | None
    kind: str
    title: str
    body: str


def notices_of(spoken: Sequence[Spoken], now: int, whose: str, zone: ZoneInfo, pages: str = "") -> list[Notice]:
    """One notice for each that speaks now, and one digest for all that waited. `pages`: where a browser finds them."""
    waited = [one.state for one in spoken if one.digest]
    digest = len(waited) > 1
    notices = [_single(one, now, whose, zone, pages) for one in spoken if not (digest and one.digest)]
    if digest:
        body = digest_body(waited, now, zone)
        notices.append(Notice(None, "digest", f"{whose}: {digest_title(len(waited))}", body))
    return notices


def _single(one: Spoken, now: int, whose: str, zone: ZoneInfo, pages: str) -> Notice:
    title = f"{whose}: {notice_title(one.kind, one.state)}"
    return Notice(one.state.id, one.kind, title, notice_body(one.state, now, zone, pages))


def test_notice(whose: str) -> tuple[str, str]:
    """Title and body of the notice that `airtally alerts test` sends."""
    return f"{whose}: {TEST_TITLE}", TEST_BODY
