"""A desk with incidents of every kind, one without any, and one with hostile words."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from zoneinfo import ZoneInfo

import numpy as np

from server.alerts.incident import Incident
from server.alerts.limits import Limits
from server.alerts.queries import Lately, LookBack
from server.alerts.states import State
from server.config import Width
from server.store.deliveries import Failing
from shared import spans as sp
from shared.zones import HOUR, SECOND, instant

ZONE = ZoneInfo("Europe/London")
NIGHT = instant("2026-11-18T03:10", ZONE)
SINCE = instant("2026-11-10T12:00", ZONE)
STUCK = State(
    3, "over-runs-on", "dstar", NIGHT + 190 * SECOND, NIGHT + 3 * HOUR, True,
    "A D-STAR over has been open since 03:10:00 on Wed 18 Nov 2026, with no end in the log after 3 min 10 s: it went "
        "on, or its end line is missing; "
    "the time-out is 3 min.",
)  # fmt: skip
STANDING = State(
    4, "link-down", "fellnet", instant("2026-11-24T20:00", ZONE), None, False, "The link to fellnet has been down."
)
NOTED = replace(
    STUCK, id=2, subject="dmr/1", raised=NIGHT - 24 * HOUR, cleared=NIGHT - 23 * HOUR, acknowledged_us=NIGHT
)
REPLAYED = Incident(
    "chatter", "air", instant("2026-11-02T00:52", ZONE), instant("2026-11-02T05:48", ZONE), False, "20 keyings."
)
FAILED = Failing(
    "mailto://hill.example/k...r", "QB0BFR: an over runs on (dstar)", 3, "Connection refused.", NIGHT + HOUR
)


def evenings_keyed() -> sp.Spans:
    """Twelve weeks of evenings, and a night on which it stuck."""
    first = instant("2026-09-01T19:00", ZONE)
    starts = np.concatenate(
        [first + day * 24 * HOUR + np.arange(60, dtype=np.int64) * 90 * SECOND for day in range(84)]
    )
    return sp.union(sp.spans(starts, starts + 60 * SECOND), sp.spans([NIGHT], [NIGHT + 3 * HOUR]))


@dataclass
class FakeDesk:
    """Brackenfell's transmitter, with whatever a test wants otherwise."""

    kept: Sequence[State] = (NOTED, STUCK, STANDING)
    replayed: Sequence[Incident] = (REPLAYED,)
    keyed: sp.Spans = field(default_factory=evenings_keyed)
    failed: Sequence[Failing] = (FAILED,)
    sent: bool = True
    watched: int | None = SINCE
    since: int | None = SINCE
    blind: sp.Spans = field(default_factory=lambda: sp.NONE)
    noted: list[int] = field(default_factory=list)
    unfinished: Sequence[int] = ()

    def stamp(self) -> str:
        return f"{self.noted}"

    def limits(self) -> Limits:
        return Limits(ZONE, 180 * SECOND, rating=0.5)

    def notices_go_somewhere(self) -> bool:
        return self.sent

    def look_back(self, start: int, end: int) -> LookBack:
        keyed = sp.clip(self.keyed, start, end)
        return LookBack(self.unfinished, self.blind, keyed, self.kept, self.replayed, self.since)

    def lately(self, start: int, now: int) -> Lately:
        every = [*self.kept, *self.replayed]
        over = [one for one in every if one.cleared is not None and one.raised >= start]
        return Lately(
            [one for one in every if one.cleared is None],
            over,
            self.watched if self.watched is None else (self.watched, now),
        )

    def raised(self, start: int | None, end: int | None) -> Sequence[State]:
        after, before = start or 0, end or 2**63
        return [one for one in self.kept if after <= one.raised < before]

    def standing(self) -> Sequence[State] | None:
        return None if self.watched is None else [one for one in self.kept if one.cleared is None]

    def failing(self) -> Sequence[Failing]:
        return self.failed

    def would_raise(self, width: Width, quiet: bool, limit: float, start: int, end: int) -> int:
        return round((1 - limit) * 40)

    def incident(self, number: int) -> State | None:
        return next((one for one in self.kept if one.id == number), None)

    def acknowledge(self, number: int, now: int) -> bool:
        known = self.incident(number) is not None
        if known:
            self.noted.append(number)
        return known


def empty_desk() -> FakeDesk:
    return FakeDesk((), (), sp.NONE, (), False, watched=None)


def hostile_desk(name: str) -> FakeDesk:
    return FakeDesk(
        kept=(replace(STANDING, subject=name, says=name), replace(STUCK, subject=name, says=name)),
        failed=(replace(FAILED, label=name, trouble=name),),
    )
