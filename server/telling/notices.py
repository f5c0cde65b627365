"""What a notice says: what was seen, since when, the evidence, what to check first, and what really makes the
transmitter safe.
"""

from collections.abc import Sequence
from typing import Protocol
from zoneinfo import ZoneInfo

from server.telling.addresses import moment_path
from server.telling.caution import NOTICE, OF_THE_TRANSMITTER, TO_THE_ANTENNA, WORK
from server.telling.checks import check
from server.telling.incidents import whole_title
from server.telling.moments import to_the_second
from server.telling.numbers import exact_duration
from shared.incidents import AnyIncident, Evident, since
from shared.numbers import grouped


class OnRecord(Evident, Protocol):
    """An incident with its number."""

    @property
    def id(self) -> int: ...


def notice_title(kind: str, incident: AnyIncident) -> str:
    """`urgent: an over runs on (DMR, slot 1)`."""
    head = whole_title(incident.rule, incident.subject)
    said = {
        "raised": "urgent: " if incident.urgent else "",
        "reminder": "urgent, still open: " if incident.urgent else "still open: ",
        "cleared": "cleared: ",
    }[kind]
    return f"{said}{head[0].lower()}{head[1:]}"


def notice_body(incident: OnRecord, now: int, zone: ZoneInfo, pages: str = "") -> str:
    """`pages`: where the keeper's browser finds them; empty where that is not known."""
    lines = [
        f"Seen: {whole_title(incident.rule, incident.subject)}.",
        f"Since: {to_the_second(since(incident), zone)}. {_lasting(incident, now, zone)}",
        f"Evidence: {incident.says}",
    ]
    if incident.cleared is None:
        lines.append(f"Check first: {check(incident.rule, incident.subject)}")
        lines.append(f"`airtally alerts ack {incident.id}`, or the Transmitter page, ends the reminders.")
    if pages:
        lines.append(f"That moment: {pages.rstrip('/')}{moment_path(incident.raised)}")
    lines.extend(caution for caution in [_caution([incident])] if caution)
    return "\n".join(lines)


def digest_title(many: int) -> str:
    return f"{grouped(many)} things since last night"


def digest_body(waited: Sequence[OnRecord], now: int, zone: ZoneInfo) -> str:
    """All that waited for the morning, a line each."""
    lines = [f"- {whole_title(one.rule, one.subject)}: {one.says} {_lasting(one, now, zone)}" for one in waited]
    caution = _caution(waited)
    return "What can wait till the morning:\n" + "\n".join(lines) + (f"\n\n{caution}" if caution else "")


def _lasting(incident: AnyIncident, now: int, zone: ZoneInfo) -> str:
    if incident.cleared is None:
        return f"It is still going on, after {exact_duration(now - since(incident))}."
    lasted = exact_duration(incident.cleared - since(incident))
    return f"It was over at {to_the_second(incident.cleared, zone)}, after {lasted}."


def _caution(incidents: Sequence[AnyIncident]) -> str:
    """What really makes the transmitter safe, where a notice is about it; what comes before work at the antenna, where
    it leads there.
    """
    if any(one.rule in OF_THE_TRANSMITTER for one in incidents):
        return NOTICE
    return WORK if any((one.rule, one.subject) in TO_THE_ANTENNA for one in incidents) else ""


TEST_TITLE = "a test notice"
TEST_BODY = (
    "Seen: nothing. This is a test that the keeper asked for.\nNotices about the transmitter would come this way.\n"
    + NOTICE
)
