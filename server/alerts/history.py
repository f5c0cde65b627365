"""What the rules know: columns of overs, links, carriers, host events and lines, and what of them was known at an
instant.

Instants are int64 microseconds UTC. A rule that is asked about the instant `now` may use only what was written before
it: an over that has a start line is known from its start, as open until its end; one that was written at its end is not
known before."""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from server.analytics.activity import UNKNOWN, Ints
from server.analytics.polish import Heard, nothing_heard
from shared import spans as sp
from shared.zones import SECOND

Bools = npt.NDArray[np.bool_]
NEVER = 1 << 61  #: the end of an over that is open; beyond any instant that a clock shows
PAGE = 2  #: the side of a page, which is from nobody
TURN_GAP = 30 * SECOND  #: an over that starts no later than this after another station's answers it
NO_INTS: Ints = np.empty(0, dtype=np.int64)
NO_BOOLS: Bools = np.empty(0, dtype=np.bool_)


@dataclass(frozen=True)
class History:
    """Everything in order of time. Codes as in server.analytics.activity; `tail` is the transmitter's tail after each
    over.
    """

    start: Ints = field(default_factory=lambda: NO_INTS)
    #: NEVER while open; of an over whose end is lost, the next event on its key
    end: Ints = field(default_factory=lambda: NO_INTS)
    #: when its end was written, `end` or later: the host may say that an over was shorter than its stamps
    told: Ints = field(default_factory=lambda: NO_INTS)
    whole: Bools = field(default_factory=lambda: NO_BOOLS)  #: not known before its end
    mode: Ints = field(default_factory=lambda: NO_INTS)
    slot: Ints = field(default_factory=lambda: NO_INTS)
    side: Ints = field(default_factory=lambda: NO_INTS)
    station: Ints = field(default_factory=lambda: NO_INTS)
    tail: Ints = field(default_factory=lambda: NO_INTS)
    lost: Bools = field(default_factory=lambda: NO_BOOLS)  #: its end is not logged
    #: it has ended and its length is known: an over of the figures
    counted: Bools = field(default_factory=lambda: NO_BOOLS)
    carriers: Ints = field(default_factory=lambda: NO_INTS)  #: when an undecoded signal came up
    #: a link's name -> instants, whether it came up (or went)
    links: dict[str, tuple[Ints, Bools]] = field(default_factory=dict)
    #: log -> instants, whether the host started (or stopped)
    hosts: dict[str, tuple[Ints, Bools]] = field(default_factory=dict)
    lines: dict[str, Ints] = field(default_factory=dict)  #: log -> when its lines were written
    unread: Ints = field(default_factory=lambda: NO_INTS)  #: when lines were written that no shape matched
    blind: sp.Spans = field(default_factory=lambda: sp.NONE)
    heard: Heard = field(default_factory=nothing_heard)  #: by radio, from known stations, with the level

    def upto(self, now: int) -> "History":
        """What of it was known at an instant."""
        known = np.where(self.whole, self.end, self.start) <= now
        overs = {name: getattr(self, name)[known] for name in OVER_COLUMNS}
        open_still = overs["told"] > now
        overs |= {name: np.where(open_still, NEVER, overs[name]) for name in ("end", "told")}

        def cut(pair: tuple[Ints, Bools]) -> tuple[Ints, Bools]:
            kept = int(np.searchsorted(pair[0], now, side="right"))
            return pair[0][:kept], pair[1][:kept]

        def seen(instants: Ints) -> Ints:
            return instants[: int(np.searchsorted(instants, now, side="right"))]

        return replace(
            self,
            **overs,
            carriers=seen(self.carriers),
            links={name: cut(pair) for name, pair in self.links.items()},
            hosts={name: cut(pair) for name, pair in self.hosts.items()},
            lines={name: seen(stamps) for name, stamps in self.lines.items()},
            unread=seen(self.unread),
            blind=sp.clip(self.blind, -NEVER, now),
            heard=self.heard.where(self.heard.start <= now),
        )

    @cached_property
    def began(self) -> int | None:
        """The instant of the first line."""
        firsts = [int(stamps[0]) for stamps in self.lines.values() if len(stamps)]
        return min(firsts, default=None)

    @cached_property
    def keyed(self) -> sp.Spans:
        """When the transmitter is keyed, canonical: every over with its tail."""
        return sp.union(sp.spans(self.start, self.end + self.tail))

    @cached_property
    def unfinished(self) -> Ints:
        """When overs began that have no end: it is lost, or not written yet."""
        return np.asarray(self.start[self.lost | (self.end == NEVER)], dtype=np.int64)

    @cached_property
    def every_line(self) -> Ints:
        """When lines were written, in any log."""
        return np.sort(np.concatenate([*self.lines.values(), NO_INTS]))

    @cached_property
    def turns(self) -> Ints:
        """When it was known that one station had answered another, sorted: people are talking."""
        return np.sort(np.maximum(self.told[1:], self.told[:-1])[self._answers])

    @cached_property
    def answering(self) -> Bools:
        """For each over, whether it answers the one before it: two known stations, hardly a gap."""
        return np.concatenate([np.zeros(min(1, len(self.start)), dtype=np.bool_), self._answers])

    @cached_property
    def _answers(self) -> Bools:
        one, other = self.station[:-1], self.station[1:]
        return np.asarray(
            (one != other) & (one != UNKNOWN) & (other != UNKNOWN) & (self.start[1:] - self.end[:-1] <= TURN_GAP)
        )

    @cached_property
    def without_tails(self) -> "History":
        """The same with a transmitter that lets go at the end of each over: what people themselves fill."""
        return replace(self, tail=np.zeros_like(self.tail)) if self.tail.any() else self

    def keyed_share(self, nows: Ints, width: int) -> npt.NDArray[np.float64]:
        """For each instant, the share of the `width` microseconds before it in which the transmitter was known then to
        be keyed; exact.
        """
        covered = sp.covered_before(self.keyed, nows) - sp.covered_before(self.keyed, nows - width)
        for place in np.flatnonzero(sp.covers(self._known_later, nows)):
            covered[place] = self._covered_as_known(int(nows[place]), width)
        return np.asarray(covered / width, dtype=np.float64)

    @cached_property
    def _known_later(self) -> sp.Spans:
        """When an over is on the air that is not known yet, or has ended and is not known to have."""
        late = ~self.whole & (self.told > self.end)
        unknown = sp.spans(self.start[self.whole], self.end[self.whole])
        return sp.union(unknown, sp.spans(self.end[late], self.told[late]))

    @cached_property
    def _longest(self) -> int:
        ended = self.end < NEVER
        return int((self.told - self.start)[ended].max(initial=0)) + int(self.tail.max(initial=0))

    @cached_property
    def _opened(self) -> sp.Spans:
        return sp.spans(self.start[self.end == NEVER], self.end[self.end == NEVER])

    def _covered_as_known(self, now: int, width: int) -> int:
        """The same for one instant inside an over that is not known yet, or whose end is not."""
        low, high = np.searchsorted(self.start, (now - width - self._longest, now))
        part = slice(int(low), int(high))
        known = ~self.whole[part] | (self.end[part] <= now)
        ends = np.where(self.told[part] > now, now, self.end[part]) + self.tail[part]
        near = sp.spans(self.start[part][known], ends[known])
        return sp.length(sp.clip(sp.union(near, self._opened[self._opened[:, 0] < now]), now - width, now))


OVER_COLUMNS = ("start", "end", "told", "whole", "mode", "slot", "side", "station", "tail", "lost", "counted")
