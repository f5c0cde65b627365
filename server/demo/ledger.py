"""The truth of a run: every counted figure of docs/definitions.md, kept as a plain book while overs and refusals pass
in order of time.

It shares no code with the figures that airtally computes, and works the other way round: one walk through time with
running totals, where those work on whole columns. Instants are integer milliseconds inside and seconds in what it gives
back."""

from bisect import bisect_right
from collections import Counter, defaultdict, deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from server.demo.repeater import Over, Refusal
from server.demo.totals import NEVER, Run, Week, totals_told
from server.demo.world import GRACE_S, HOLD_S, TAIL_S, TARGETS, TIMEOUT_S

DOUBLING_MS, ATTEMPT_MS, TALK_MS, KERCHUNK_MS = 500, 10_000, 30_000, 1500


@dataclass
class Chain:
    """Overs on one mode, slot and target with no more than 30 s between; a conversation if two are in it."""

    overs: list[Over] = field(default_factory=list)
    latest: int = NEVER


class Ledger:
    """Feed it overs, pages and refusals in order of start (`over`, `page`, `refusal`), then `close` it, and ask for
    `figures`.
    """

    def __init__(self, edges: list[int]) -> None:
        self.edges = edges  #: milliseconds; window i is [edges[i], edges[i + 1])
        self.weeks = [Week() for _ in edges[1:]]
        self.covered: dict[tuple[str, ...], int] = {}
        self.slots: dict[int, deque[tuple[int, int]]] = {1: deque(), 2: deque()}
        self.last_end: dict[str, int] = {}
        self.last_start = NEVER
        self.runs: dict[str, Run] = {}
        self.recent: dict[tuple[str, int | None], list[Over]] = defaultdict(list)
        self.chains: dict[tuple[str, int | None, str | None], Chain] = {}
        self.attempted: dict[tuple[str, str, str | None], int] = {}
        self.wide = {(one.mode, one.name) for one in TARGETS if one.reach == "wide"}

    def week_of(self, t: int) -> Week:
        """The window that holds an instant."""
        return self.weeks[bisect_right(self.edges, t) - 1]

    def add(self, start: int, end: int, *figures: tuple[str, ...]) -> None:
        """Add a span to figures, split where windows meet."""
        place = bisect_right(self.edges, start) - 1
        while start < end and place < len(self.weeks):
            upto = min(end, self.edges[place + 1])
            for figure in figures:
                self.weeks[place].ms[figure] += upto - start
            start, place = upto, place + 1

    def cover(self, start: int, end: int, figure: tuple[str, ...]) -> tuple[int, int]:
        """Add to a union that grows in order of start; gives back the part that is new."""
        fresh = max(start, self.covered.get(figure, NEVER))
        if end > fresh:
            self.covered[figure] = end
            self.add(fresh, end, figure)
        return fresh, end

    def over(self, over: Over) -> None:
        """Book the next over."""
        start, mode, counts = over.start, over.mode, self.week_of(over.start).counts
        if over.end is None:
            counts["unfinished", mode] += 1
            return
        end = over.end
        self._transmit(mode, start, end)
        if over.slot:
            self._slot(mode, over.slot, start, end)
        self._count(over, end, counts)
        self._double(over, end)
        self._chain(over, end)

    def page(self, mode: str, start: int, end: int) -> None:
        """Book a page: on the air and holding as overs are, and counted apart from them."""
        self.week_of(start).counts["pages", mode] += 1
        self._transmit(mode, start, end)

    def _transmit(self, mode: str, start: int, end: int) -> None:
        """Airtime, keyed time and holds of what is on the air from start to end."""
        self._settle_holds(start)
        run = self.runs.get(mode)
        reach = end + _hold_ms(mode)
        if run is None or start > run.end:
            self.runs[mode] = Run(start, reach)
        else:
            run.end = max(run.end, reach)
        self.last_start = max(self.last_start, start)
        self.last_end[mode] = max(self.last_end.get(mode, NEVER), end)
        self.cover(start, end, ("air", ""))
        self.cover(start, end, ("air", mode))
        self.cover(start, end + TAIL_S.get(mode, TAIL_S["default"]) * 1000, ("keyed", ""))

    def _settle_holds(self, t: int) -> None:
        """An over starts at t: holds that were running end there, and the silence before it becomes idle hold."""
        silent = self.covered.get(("air", ""), NEVER)
        longest = silent
        for mode, ended in self.last_end.items():
            if ended > t:
                continue  # its over is still on; its hold comes later
            holds_to = ended + _hold_ms(mode)
            if self.last_start >= ended:
                holds_to = min(holds_to, self.last_start)  # an over that came after has cut it
            else:
                self.runs[mode].end = min(self.runs[mode].end, max(ended, t))
            upto = min(holds_to, t)
            if upto > silent:
                self.add(silent, upto, ("idle", mode))
                longest = max(longest, upto)
        if silent > NEVER:
            self.add(silent, longest, ("idle", ""))

    def _slot(self, mode: str, slot: int, start: int, end: int) -> None:
        fresh, end = self.cover(start, end, ("slot", mode, str(slot)))
        if end <= fresh:
            return
        others = self.slots[3 - slot]
        while others and others[0][1] <= start:
            others.popleft()
        for begun, ended in others:
            self.add(max(fresh, begun), min(end, ended), ("both", mode))
        self.slots[slot].append((fresh, end))

    def _count(self, over: Over, end: int, counts: Counter[tuple[str, ...]]) -> None:
        mode, seconds = over.mode, (end - over.start) / 1000
        counts["overs", mode] += 1
        counts[over.side + "_overs", mode] += 1
        if over.cause == "timeout":
            counts["timeouts", mode] += 1
        elif 0.9 * TIMEOUT_S <= seconds <= TIMEOUT_S + GRACE_S:
            counts["near_timeouts", mode] += 1
        if over.identity:
            stations = self.week_of(over.start).stations
            stations[mode].add(over.identity)
            stations[""].add(over.identity)

    def _double(self, over: Over, end: int) -> None:
        """Pairs of known, different stations that overlap on one mode and slot; the overlap starts where the later one
        does.
        """
        running = [one for one in self.recent[over.mode, over.slot] if (one.end or 0) > over.start]
        for one in running:
            overlap = min(end, one.end or 0) - over.start
            if overlap >= DOUBLING_MS and _differ(one, over):
                self.week_of(over.start).counts["doublings", over.mode] += 1
        self.recent[over.mode, over.slot] = [*running, over]

    def _chain(self, over: Over, end: int) -> None:
        key = over.mode, over.slot, over.target
        chain = self.chains.get(key)
        if chain is None or over.start > chain.latest + TALK_MS:
            if chain:
                self._end_chain(chain)
            chain = self.chains[key] = Chain()
        chain.overs.append(over)
        chain.latest = max(chain.latest, end)

    def _end_chain(self, chain: Chain) -> None:
        if len({over.identity for over in chain.overs if over.identity}) < 2:
            self._book_kerchunks(chain)
        else:
            self._book_conversation(chain)

    def _book_kerchunks(self, chain: Chain) -> None:
        for over in chain.overs:
            if over.side == "air" and (over.end or 0) - over.start < KERCHUNK_MS:
                self.week_of(over.start).counts["kerchunks", over.mode] += 1

    def _book_conversation(self, chain: Chain) -> None:
        first = chain.overs[0]
        week = self.week_of(first.start)
        week.counts["conversations", ""] += 1
        for before, after in pairwise(chain.overs):
            gap = after.start - (before.end or 0)
            if gap >= 0 and _differ(before, after):
                self.week_of(before.end or 0).gaps.append(gap)
        if (first.mode, first.target) in self.wide and all(over.side == "air" for over in chain.overs):
            week.counts["local_on_wide", ""] += 1
            self._book_local(chain, ("local_on_wide", first.mode, first.target or ""))

    def _book_local(self, chain: Chain, figure: tuple[str, ...]) -> None:
        reach = NEVER
        for over in chain.overs:
            self.add(max(reach, over.start), over.end or 0, figure)
            reach = max(reach, over.end or 0)

    def refusal(self, refusal: Refusal) -> None:
        """Book the next refusal; overs that start at the same instant come first."""
        key = refusal.mode, refusal.side, refusal.identity
        before = self.attempted.get(key, NEVER)
        self.attempted[key] = refusal.t
        if refusal.t - before < ATTEMPT_MS:
            return
        week = self.week_of(refusal.t)
        week.counts["attempts", refusal.mode] += 1
        if refusal.reason == "busy":
            week.counts["doublings", refusal.mode] += 1
        elif refusal.reason == "lockout":
            week.counts["timeout_lockouts", refusal.mode] += 1
        else:
            holding = [
                (run.start, mode)
                for mode, run in self.runs.items()
                if mode != refusal.mode and run.start <= refusal.t < run.end
            ]
            holder = min(holding)[1] if holding else "unknown"
            week.attempts.append((refusal.mode, holder, refusal.t, self.runs.get(holder)))

    def close(self) -> None:
        """No more overs: settle the last holds and conversations."""
        self._settle_holds(self.edges[-1])
        for chain in self.chains.values():
            self._end_chain(chain)
        self.chains = {}

    def figures(self, weeks: Iterable[Week]) -> dict[str, Any]:
        """The figures of some windows together, laid out and named as in `figures --json` (docs/contract.md)."""
        return totals_told(list(weeks))


def _hold_ms(mode: str) -> int:
    return HOLD_S.get(mode, HOLD_S["default"]) * 1000


def _differ(one: Over, other: Over) -> bool:
    """Whether both stations are known, and are two."""
    return bool(one.identity and other.identity and one.identity != other.identity)
