"""The figures of a window, as whoever shows them reads them; `as_json` is the shape that docs/contract.md promises.

What is not known is None, never 0. Instants are microseconds UTC, lengths seconds, shares 0 to 1.
"""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from server.analytics.airtime import Fullest
from server.analytics.traffic import BusyHour
from shared.zones import SECOND, iso

Json = dict[str, Any]


class Withheld(StrEnum):
    """What stands in place of a count that could tell of a person."""

    FEWER = "fewer than 5"
    KEPT_BACK = "kept back"  #: beside the others it would tell the size of a small group


Stations = int | Withheld | None  #: distinct stations


@dataclass(frozen=True)
class Stretch:
    """The window looked at, [start, end), and how much of it was blind."""

    start_us: int
    end_us: int
    zone: ZoneInfo
    blind_s: float

    @property
    def seconds(self) -> float:
        return (self.end_us - self.start_us) / SECOND

    @property
    def seen(self) -> bool:
        """Whether anything of it was seen."""
        return self.blind_s < self.seconds

    @property
    def seen_share(self) -> float:
        """The share of it that was not blind."""
        return 1 - min(1.0, self.blind_s / self.seconds) if self.seconds else 0.0

    def as_json(self) -> Json:
        return {
            "from": iso(self.start_us, self.zone), "to": iso(self.end_us, self.zone), "zone": self.zone.key,
            "seconds": self.seconds, "blind_s": self.blind_s,
        }  # fmt: skip


@dataclass(frozen=True)
class Channel:
    """The repeater as a whole; all but `seen_s` are None where nothing was seen."""

    seen_s: float
    airtime_s: float | None = None
    occupancy: float | None = None
    keyed_s: float | None = None
    idle_hold_s: float | None = None
    overs: int | None = None
    pages: int | None = None
    overruns: int | None = None
    unfinished: int | None = None
    unfinished_longest_s: float | None = None
    stations: Stations = None
    pages_estimated: int | None = None  #: pages of unknown length of which it can be estimated
    pages_airtime_estimated_s: float | None = None  #: of these; in no other figure


@dataclass(frozen=True)
class Slots:
    """The airtime of a mode's two slots."""

    first_s: float
    second_s: float
    both_s: float  #: in use at once


@dataclass(frozen=True)
class Mode:
    """One mode. Counts are of what began in the window; None where no over of the mode tells what is counted."""

    airtime_s: float | None
    slots: Slots | None  #: of a mode with slots
    erlang: float | None
    idle_hold_s: float | None
    shut_out_risk: float
    pages: int
    overs: int
    air_overs: int | None
    link_overs: int | None
    stations: Stations
    timeouts: int
    timeouts_estimated: int
    overruns: int
    near_timeouts: int
    timeout_lockouts: int
    kerchunks: int | None
    shut_outs_suffered: int
    shut_outs_caused: int
    doublings: int | None
    pages_estimated: int = 0
    pages_airtime_estimated_s: float | None = 0.0

    def as_json(self) -> Json:
        found = asdict(self)
        slots = {"1": self.slots.first_s, "2": self.slots.second_s} if self.slots else {}
        airtime, _ = found.pop("airtime_s"), found.pop("slots")
        both = self.slots.both_s if self.slots else None
        return {"airtime_s": airtime, "slot_s": slots, "both_slots_s": both, **found}


@dataclass(frozen=True)
class ShutOutPair:
    """Attempts that one mode's hold refused to callers of another; a mode is None where the log does not tell it."""

    held_by: str | None
    wanted: str | None
    attempts: int
    mean_wait_s: float | None

    def as_json(self) -> Json:
        return asdict(self) | {"held_by": self.held_by or "unknown", "wanted": self.wanted or "unknown"}


@dataclass(frozen=True)
class Duty:
    """The fullest spans of 6, 30 and 60 minutes."""

    six: Fullest = field(default_factory=Fullest)
    thirty: Fullest = field(default_factory=Fullest)
    sixty: Fullest = field(default_factory=Fullest)

    def __iter__(self) -> Iterator[tuple[int, Fullest]]:
        """Minutes and the fullest span of so many, shortest first."""
        yield from ((6, self.six), (30, self.thirty), (60, self.sixty))

    def as_json(self, zone: ZoneInfo) -> Json:
        found = {}
        for minutes, fullest in self:
            start, end = (None, None) if fullest.span is None else (iso(us, zone) for us in fullest.span)
            found[f"{minutes}min"] = {"share": fullest.share, "from": start, "to": end}
        return found


@dataclass(frozen=True)
class Talk:
    """How people talk; all None where the log names no stations."""

    conversations: int | None = None
    turnaround_median_s: float | None = None
    short_gap_share: float | None = None
    local_on_wide_s: float | None = None
    local_on_wide: int | None = None


@dataclass(frozen=True)
class LineCounts:
    """What became of the lines stamped in the window."""

    lines: int = 0
    understood: int = 0
    ignored: int = 0
    unread: int = 0
    orphans: int = 0
    doubtful: int = 0


@dataclass(frozen=True)
class Figures:
    """All figures of one window."""

    repeater: str
    window: Stretch
    channel: Channel
    intake: LineCounts
    modes: Mapping[str, Mode] = field(default_factory=dict)  #: by mode word; only those seen
    shut_outs: tuple[ShutOutPair, ...] | None = None  #: most attempts first
    likely_waiters_estimated: int | None = None
    busy_hour: BusyHour = field(default_factory=lambda: BusyHour(None, None, None))
    duty: Duty = field(default_factory=Duty)
    talk: Talk = field(default_factory=Talk)

    @property
    def attempts_shut_out(self) -> int | None:
        """Attempts over all pairs of modes."""
        return None if self.shut_outs is None else sum(pair.attempts for pair in self.shut_outs)

    def as_json(self) -> Json:
        """Just what `airtally figures --json` prints."""
        zone = self.window.zone
        return {
            "repeater": self.repeater,
            "window": self.window.as_json(),
            "channel": asdict(self.channel),
            "modes": {word: mode.as_json() for word, mode in self.modes.items()},
            "shut_outs": None if self.shut_outs is None else [pair.as_json() for pair in self.shut_outs],
            "likely_waiters_estimated": self.likely_waiters_estimated,
            "busy_hour": asdict(self.busy_hour),
            "duty": self.duty.as_json(zone),
            "talk": asdict(self.talk),
            "intake": asdict(self.intake),
        }
