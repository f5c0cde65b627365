"""What a page needs of the house around it, in one piece."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.web.shell import Link, Links, Shell
from server.web.source import Station


@dataclass(frozen=True)
class Frame:
    """Handed to the view of every page: whose pages they are, who looks, and where things lie."""

    links: Links  #: addresses under the path prefix
    station: Station  #: whose pages these are
    signed_in: bool  #: whether the visitor came in by the password

    @property
    def zone(self) -> ZoneInfo:
        """The station's, in which days and hours are shown."""
        return self.station.zone

    @property
    def repeater(self) -> str:
        """Call sign and place."""
        return f"{self.station.callsign} {self.station.name}".strip()

    def to(self, path: str) -> str:
        """The address of a page."""
        return self.links.to(path)

    def link(self, label: str, path: str) -> Link:
        """A link to a page."""
        return Link(label, self.links.to(path))

    def shell(self, title: str, here: str | None) -> Shell:
        """What stands around the page that the navigation has at `here` (None: a page that it doesn't have)."""
        return self.links.shell(title, self.repeater, here, self.signed_in)
