"""All that is known of one instant, as whoever shows it reads it (docs/definitions.md, A moment). What is not known is
None. Instants are microseconds UTC; by mode, slot and side, never by station.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.analytics.figure_types import Json
from server.analytics.linking import Key
from shared.incidents import Evident
from shared.zones import iso

Span = tuple[int, int]  #: [start, end), microseconds


@dataclass(frozen=True)
class Sent:
    """A transmission; what the log does not tell is None. Microseconds."""

    mode: str | None
    slot: int | None
    side: str | None
    start_us: int
    end_us: int

    def as_json(self, zone: ZoneInfo) -> Json:
        return {
            "mode": self.mode, "slot": self.slot, "side": self.side,
            "from": iso(self.start_us, zone), "to": iso(self.end_us, zone),
        }  # fmt: skip


@dataclass(frozen=True)
class TimedOut:
    """An over that ran into the time-out; `estimated` where only its length tells."""

    over: Sent
    estimated: bool

    def as_json(self, zone: ZoneInfo) -> Json:
        return {**self.over.as_json(zone), "estimated": self.estimated}


@dataclass(frozen=True)
class Refused:
    """An attempt, and how long a shut-out caller would have had to wait: None where that is not known, or another mode
    was not the reason. `holder` is the mode that held the repeater then, where there is a wait.
    """

    at_us: int
    mode: str | None
    reason: str | None
    wait_s: float | None
    holder: str | None = None

    def as_json(self, zone: ZoneInfo) -> Json:
        return {"at": iso(self.at_us, zone), "mode": self.mode, "reason": self.reason, "wait_s": self.wait_s}


@dataclass(frozen=True)
class Down:
    """A link that was down; `end_us` None where it has not come back."""

    key: Key
    start_us: int
    end_us: int | None

    def as_json(self, zone: ZoneInfo) -> Json:
        network, mode, target = self.key
        end = None if self.end_us is None else iso(self.end_us, zone)
        return {"network": network, "mode": mode, "target": target, "from": iso(self.start_us, zone), "to": end}


@dataclass(frozen=True)
class Holding:
    """An unbroken hold of a mode."""

    mode: str
    start_us: int
    end_us: int


@dataclass(frozen=True)
class Moment:
    """All that is known of an instant. `on_air` is None where it was not seen; each list of what happened around it is
    None where nothing of that half hour was seen and nothing is on record.
    """

    at_us: int
    zone: ZoneInfo
    wanted: str | None  #: the mode that is asked for
    seen: bool
    unseen: Span | None  #: where it was not seen: the stretch of which nothing is known, as far as was looked
    near_seen_s: float  #: of the half hour around it
    on_air: tuple[Sent, ...] | None
    holding: Holding | None  #: None: nobody, or not known
    free: Span | None  #: seen time around it in which nothing held, as far as was looked
    doubt: int | None  #: when something began of which nobody knows whether it held then; only where nothing else did
    wait_s: float | None
    attempts: tuple[Refused, ...] | None
    timeouts: tuple[TimedOut, ...] | None
    links_down: tuple[Down, ...] | None
    incidents: tuple[Evident, ...] | None

    def as_json(self, says: Sequence[str]) -> Json:
        """Just what `airtally moment --json` prints; incidents as `airtally alerts --json` has them."""
        zone, held_by = self.zone, self.holding
        return {
            "at": iso(self.at_us, zone),
            "seen": self.seen,
            "on_air": None if self.on_air is None else [one.as_json(zone) for one in self.on_air],
            "held_by": held_by and held_by.mode,
            "held_from": held_by and iso(held_by.start_us, zone),
            "held_to": held_by and iso(held_by.end_us, zone),
            "wanted": self.wanted,
            "wait_s": self.wait_s,
            "attempts": None if self.attempts is None else [one.as_json(zone) for one in self.attempts],
            "timeouts": None if self.timeouts is None else [one.as_json(zone) for one in self.timeouts],
            "links_down": None if self.links_down is None else [one.as_json(zone) for one in self.links_down],
            "incidents": None if self.incidents is None else [one.as_json(zone) for one in self.incidents],
            "says": list(says),
        }
