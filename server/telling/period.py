"""A week or a month as what is said of it needs it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from server.analytics.compare import Beside
from server.analytics.figure_types import Figures
from server.analytics.links import LinkFigures
from server.analytics.overruns import Overrun
from server.analytics.shorter_hold import ShorterHold


@dataclass(frozen=True)
class NamedLink:
    """A link of which something is known, by a name that may be shown."""

    name: str
    its: LinkFigures


@dataclass(frozen=True)
class WideTalk:
    """Local talk on one wide target."""

    mode: str | None
    label: str
    conversations: int
    seconds: float


@dataclass(frozen=True)
class Period:
    """All that findings and advice are made from."""

    figures: Figures
    zone: ZoneInfo
    timeout_s: float
    kind: str = "week"  #: and what it is compared with, in the plural
    over: bool = True
    edges: str = ""  #: where the log begins or stops within it
    airtime: Mapping[str, Beside] = field(default_factory=dict)  #: by mode, and CHANNEL
    shut_outs: Beside = field(default_factory=lambda: Beside(0))
    overruns: tuple[Overrun, ...] = ()  #: the longest first; then those without an end
    overruns_whole: bool = False  #: these are all of them, not the longest only
    links: tuple[NamedLink, ...] = ()
    shorter_hold: ShorterHold | None = None
    courtesy_gap_s: float = 1.0
    duty_rating: float = 1.0  #: share of an hour that the transmitter may be keyed
    idle_modes: tuple[str, ...] = ()  #: that hardly anybody used for half a year

    @property
    def worst_link(self) -> NamedLink | None:
        """The one that was least available, of those of which that is known."""
        known = [link for link in self.links if link.its.availability is not None]
        return min(known, key=lambda link: link.its.availability or 0.0, default=None)
