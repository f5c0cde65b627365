"""What rules, records and readers know of an incident alike."""

from typing import Any, Protocol
from zoneinfo import ZoneInfo


class AnyIncident(Protocol):
    """Something that an alert was raised for, from store, replay or report; instants are microseconds."""

    @property
    def rule(self) -> str: ...
    @property
    def subject(self) -> str: ...
    @property
    def raised(self) -> int: ...
    @property
    def cleared(self) -> int | None: ...
    @property
    def urgent(self) -> bool: ...
    @property
    def began(self) -> int | None: ...


class Evident(AnyIncident, Protocol):
    """An incident with its evidence in a sentence or two."""

    @property
    def says(self) -> str: ...

    def as_json(self, zone: ZoneInfo) -> dict[str, Any]: ...


def since(incident: AnyIncident) -> int:
    """When what an incident is about began: the over, the outage, the silence. A rule raises it later."""
    return incident.raised if incident.began is None else incident.began
