"""The columns that every figure is computed from: overs, unfinished overs and refusals, as numpy arrays.

Codes: mode = index in shared.events.MODES, side = index in SIDES, cause = index in CAUSES, reason = index in REASONS;
slot = 1 or 2 (0: none); station and target = index in `stations` and `targets`. -1 means not known (slot: 0).
Instants are int64 microseconds UTC. Overs are sorted by start.
"""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from shared import spans as sp
from shared.zones import SECOND

Ints = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]
UNKNOWN = -1
AIR, LINK = 0, 1
RELEASED, TIMEOUT, LOST = 0, 1, 2
OTHER_MODE, BUSY, LOCKOUT = 0, 1, 2


@dataclass(frozen=True)
class Overs:
    """n finished overs, sorted by start; all arrays int64 of shape (n,), `doubtful` bool, levels float64 (nan: not
    logged)."""

    start: Ints
    end: Ints
    mode: Ints
    slot: Ints
    side: Ints
    station: Ints
    target: Ints
    cause: Ints
    doubtful: npt.NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.start)

    def where(self, mask: npt.NDArray[np.bool_] | Ints) -> "Overs":
        """The overs that a mask (n,) keeps, or those at some places, in that order."""
        return Overs(*(column[mask] for column in self.columns()))

    def columns(self) -> tuple[npt.NDArray[Any], ...]:
        """All of them, in order."""
        return (
            self.start, self.end, self.mode, self.slot, self.side, self.station, self.target, self.cause, self.doubtful,
        )  # fmt: skip

    def followed_by(self, others: "Overs") -> "Overs":
        """These and then the others, not sorted."""
        return Overs(*(np.concatenate(pair) for pair in zip(self.columns(), others.columns(), strict=True)))

    def spans(self) -> sp.Spans:
        """Their spans, not united, shape (n, 2)."""
        return np.stack([self.start, self.end]).T


@dataclass(frozen=True)
class Unfinished:
    """Overs whose end never came: start, and the next event on their key (the largest int64 where there was none)."""

    start: Ints
    until: Ints
    mode: Ints


@dataclass(frozen=True)
class Refusals:
    """`refused` events, sorted by instant."""

    t: Ints
    mode: Ints
    side: Ints
    station: Ints
    reason: Ints

    def where(self, mask: npt.NDArray[np.bool_] | Ints) -> "Refusals":
        """Those that a mask (n,) keeps, or those at some places, in that order."""
        return Refusals(self.t[mask], self.mode[mask], self.side[mask], self.station[mask], self.reason[mask])


@dataclass(frozen=True)
class Pages:
    """n pages, sorted by start; all arrays int64 of shape (n,)."""

    start: Ints
    end: Ints  #: before the start where its length is not known
    mode: Ints
    slot: Ints
    estimated: Ints | None = None  #: microseconds of those of unknown length, -1 where that is not known either

    @property
    def likely_end(self) -> Ints:
        """When each page of unknown length ended, as it is estimated; before its start where it can't be, or its length
        is known.
        """
        length = np.full(len(self.start), -1, dtype=np.int64) if self.estimated is None else self.estimated
        return np.where(self.end < self.start, self.start + length, self.start - 1)

    def sent(self) -> Overs:
        """Those of known length as transmissions: of no side, no station, and no cause."""
        known = self.end >= self.start
        nothing = np.full(int(known.sum()), UNKNOWN, dtype=np.int64)
        doubtful = np.zeros(len(nothing), dtype=np.bool_)
        return Overs(
            self.start[known],
            self.end[known],
            self.mode[known],
            self.slot[known],
            nothing,
            nothing,
            nothing,
            nothing,
            doubtful,
        )


NO_INTS: Ints = np.empty(0, dtype=np.int64)
NO_PAGES = Pages(NO_INTS, NO_INTS, NO_INTS, NO_INTS)


@dataclass(frozen=True)
class Activity:
    """All that happened in a stretch of time wide enough around the window that is asked about (see MARGIN)."""

    overs: Overs
    unfinished: Unfinished
    refusals: Refusals
    unlogged: sp.Spans = field(default_factory=lambda: sp.NONE)  #: what no log tells (server.analytics.seen): canonical
    stations: tuple[str, ...] = ()
    targets: tuple[str, ...] = ()
    pages: Pages = NO_PAGES

    @property
    def sent(self) -> Overs:
        """All transmissions, sorted by start: the overs, and the pages of known length."""
        return self._sent[0]

    @property
    def sent_page(self) -> npt.NDArray[np.bool_]:
        """Which of the transmissions are pages."""
        return self._sent[1]

    @cached_property
    def _sent(self) -> tuple[Overs, npt.NDArray[np.bool_]]:
        if not len(self.pages.start):
            return self.overs, np.zeros(len(self.overs), dtype=np.bool_)
        pages = self.pages.sent()
        both = self.overs.followed_by(pages)
        order = np.argsort(both.start, kind="stable")
        return both.where(order), order >= len(self.overs)

    @cached_property
    def on_air(self) -> sp.Spans:
        """When anything is on the air, canonical."""
        return sp.union(self.sent.spans())

    @cached_property
    def blind(self) -> sp.Spans:
        """Time of which nothing is known, canonical: no log tells it, and nothing that a log tells lasted through
        it."""
        return sp.difference(self.unlogged, self.on_air)

    def seen(self, window: "Window") -> sp.Spans:
        """What of a window is known, canonical: the base of every share and rate."""
        return sp.complement(self.blind, *window)


# : How far beyond a window the activity must reach on both sides for its figures to be exact, microseconds: holds,
# tails, an hour of
#: duty, conversations and unbroken holds all end well within a day.
MARGIN = 24 * 3600 * SECOND

Window = tuple[int, int]  #: [from, to), microseconds UTC


def in_window(instants: Ints, window: Window) -> npt.NDArray[np.bool_]:
    """For each instant, whether the window holds it: the rule of every count."""
    return (instants >= window[0]) & (instants < window[1])


def us(seconds: float) -> int:
    """Whole microseconds of a setting in seconds."""
    return round(seconds * SECOND)


def timer_us(seconds: tuple[float, ...], mode: Ints) -> Ints:
    """The timer of each mode code, microseconds; the default for a mode that is not known."""
    return np.array([us(value) for value in seconds], dtype=np.int64)[mode]
