"""The machine on the hill: one repeater that several modes take turns on, and what its host notes down.

Instants are integer milliseconds since 1970 UTC, so that a log with millisecond stamps loses nothing.
"""

import math
from bisect import bisect_right
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from server.demo.hearing import Hearing
from server.demo.world import HABITS, HOLD_S, TIMEOUT_S, Person, Target

CLOSING_MS = 300  # a host that is told to stop closes its overs this much later
LOCKOUT_MS = 15_000


class Over(NamedTuple):
    """One over as it went over the air; `end` is None where the power failed before the host could write it."""

    start: int
    end: int | None
    mode: str
    slot: int | None
    side: str
    text: str | None
    identity: str | None
    target: str | None
    cause: str
    ber_pct: float | None
    loss_pct: float | None
    rssi_dbm: float | None


class Refusal(NamedTuple):
    """One refused key-up; `holder` is the mode that held the repeater, where that was the reason."""

    t: int
    mode: str
    slot: int | None
    side: str
    text: str | None
    identity: str | None
    target: str | None
    reason: str
    holder: str | None


@dataclass
class Outages:
    """Spans [start, end) in which something is away; they don't overlap."""

    spans: list[tuple[int, int]]
    starts: list[int] = field(init=False)

    def __post_init__(self) -> None:
        self.spans.sort()
        self.starts = [start for start, _ in self.spans]

    def at(self, t: int) -> bool:
        """Whether it is away at t."""
        place = bisect_right(self.starts, t) - 1
        return place >= 0 and t < self.spans[place][1]

    def next_start(self, t: int) -> int | None:
        """When it goes away next after t."""
        place = bisect_right(self.starts, t)
        return self.starts[place] if place < len(self.starts) else None


class Repeater:
    """Who holds the repeater, what runs on it, and its record of overs and refusals."""

    def __init__(self, rng: np.random.Generator, down: Outages, links: dict[str, Outages], hearing: Hearing) -> None:
        self.rng, self.down, self.links, self.hearing = rng, down, links, hearing
        self.holder: str | None = None
        self.lets_go = 0
        self.running: dict[tuple[str, int | None, str], int] = {}
        self.locked: dict[str, int] = {}
        self.overs: list[Over] = []
        self.refusals: list[Refusal] = []

    def held_from(self, mode: str, t: int) -> bool:
        """Whether another mode holds the repeater at t."""
        return t < self.lets_go and self.holder != mode

    def ends(self, mode: str, slot: int | None, side: str) -> int:
        """When the latest over of a stream ends (0: there was none)."""
        return self.running.get((mode, slot, side), 0)

    def link_away(self, mode: str, t: int) -> bool:
        """Whether the mode's network can't be reached at t."""
        network = HABITS[mode].network
        return network is None or self.links[network].at(t)

    def key_up(
        self, t: int, target: Target, side: str, person: Person | None, wish_ms: int, ends_at: int | None = None
    ) -> Over:
        """Put an over on the air that its sender would like to last `wish_ms`; `ends_at` overrides timer and all."""
        mode, slot = target.mode, target.slot
        rssi, ber, loss = self._levels(t, mode, side, person)
        end, cause = t + wish_ms, "released"
        if ber is not None and self.rng.random() < ber / 25:
            end, cause = t + max(200, int(wish_ms * self.rng.random())), "lost"
        if end - t >= TIMEOUT_S * 1000:
            end, cause = t + TIMEOUT_S * 1000 + int(self.rng.integers(0, 60)), "timeout"
        if ends_at is not None:
            end, cause = ends_at, "lost"
        breaks = [self.down.next_start(t)]
        if side == "link":
            breaks.append(self.links[HABITS[mode].network or ""].next_start(t))
        for at in breaks:
            if at is not None and at < end:
                end, cause = at + CLOSING_MS, "lost"
        if cause == "timeout" and side == "air" and person:
            self.locked[person.callsign] = end + LOCKOUT_MS
        self.running[mode, slot, side] = end
        hold_ms = HOLD_S.get(mode, HOLD_S["default"]) * 1000
        self.lets_go = max(end + hold_ms, self.lets_go if self.holder == mode else 0)
        self.holder = mode
        text, identity = (person.logged(mode), person.identity(mode)) if person else (None, None)
        over = Over(t, end, mode, slot, side, text, identity, target.name, cause, ber, loss, rssi)
        self.overs.append(over)
        return over

    def lose_power(self, t: int, target: Target, person: Person) -> None:
        """An over that begins and whose end nobody writes."""
        text, identity = person.logged(target.mode), person.identity(target.mode)
        self.overs.append(
            Over(t, None, target.mode, target.slot, "air", text, identity, target.name, "", None, None, None)
        )

    def refuse(self, t: int, target: Target, side: str, person: Person, reason: str) -> None:
        """Turn a key-up away and note why; what is turned away of a link goes unnoted, as nobody here pressed a key."""
        if side == "link":
            return
        mode = target.mode
        holder = self.holder if reason == "other-mode" else None
        text, identity = person.logged(mode), person.identity(mode)
        self.refusals.append(Refusal(t, mode, target.slot, side, text, identity, target.name, reason, holder))

    def _levels(
        self, t: int, mode: str, side: str, person: Person | None
    ) -> tuple[float | None, float | None, float | None]:
        """RSSI (dBm) and BER (%) of an over received by radio, packet loss (%) of one over a link."""
        rng = self.rng
        if side == "link":
            return None, None, round(min(100.0, rng.exponential(0.4)), 1)
        rssi = (person.rssi_dbm if person else -100.0) + 2.5 * rng.standard_normal()
        rssi = max(-125.0, rssi + self.hearing.gain_db(t, person))
        if mode == "fm":
            return round(rssi, 1), None, None
        ber = 0.1 + 0.15 * rng.random() + self.hearing.errors_pct(t) + 12 * math.exp(-(rssi + 122) / 4)
        return round(rssi, 1), round(min(ber, 14.0), 2), None
