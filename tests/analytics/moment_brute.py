"""A moment again, slowly and plainly, from the words of docs/definitions.md: sets of half-second ticks and loops; and
random logs of two hours to ask about.
"""

import random
from typing import Any
from zoneinfo import ZoneInfo

from server.analytics.linking import Change, Key
from server.analytics.moment import moment
from shared.events import CAUSES, MODES, REASONS
from shared.zones import iso
from tests.analytics.analytics_brute import Brute, runs
from tests.analytics.analytics_world import LONDON, STATIONS, TARGETS, Lost, Over, Paged, Refused, Rules, World

LENGTH = 2 * 7200  # ticks
QUARTER = 15 * 60 * 1_000_000
Links = dict[Key, list[Change]]


def random_log(seed: int) -> tuple[World, Links]:
    """Two hours of a repeater: sparse or crowded, with unfinished overs, pages, refusals, blind time and links."""
    draw = random.Random(seed)
    modes = draw.choices(["dmr", "dstar", "fm", "c4fm", "p25"], k=3)
    overs = [_over(draw, modes) for _ in range(draw.choice([2, 15, 60, 120]))]
    refusals = [
        Refused(draw.randrange(LENGTH), draw.choice([*modes, None]), draw.choice(["air", "link", None]),
                draw.choice([*STATIONS, None]), draw.choice([*REASONS, "other-mode", None]))
        for _ in range(draw.randrange(30))
    ]  # fmt: skip
    starts = [draw.randrange(LENGTH) for _ in range(draw.choice([0, 0, 1, 3]))]
    lost = [Lost(t, draw.choice([None, t + draw.randrange(1, 900)]), draw.choice([*modes, None])) for t in starts]
    paged = [draw.randrange(LENGTH) for _ in range(draw.choice([0, 0, 2, 6]))]
    pages = [Paged(t, draw.choice([None, t + draw.randrange(20)])) for t in paged]
    holes = [(t, t + draw.randrange(1, 3000)) for t in (draw.randrange(LENGTH) for _ in range(draw.choice([0, 1, 3])))]
    blind = [(-100_000, draw.randrange(0, 600)), (LENGTH - draw.randrange(0, 600), 100_000), *holes]
    hold = {"default": draw.randrange(60), draw.choice(modes): draw.randrange(60)}
    rules = Rules(timeout=draw.randrange(60, 400), hold=hold, grace=draw.randrange(40))
    world = World(overs, refusals, lost, blind, rules, (0, LENGTH), pages=pages)
    return world, {key: _changes(draw, world) for key in ((None, "dmr", "99920"), ("moorland", "dstar", None))}


def _over(draw: random.Random, modes: list[str]) -> Over:
    start = draw.randrange(LENGTH)
    mode = draw.choice([*modes * 5, None])
    return Over(
        start, start + draw.choice([0, 3, draw.randrange(40), draw.randrange(400)]), mode,
        draw.choice([1, 2]) if mode == "dmr" else 0, draw.choice(["air", "link", None]),
        draw.choice([*STATIONS, None]), draw.choice([*TARGETS, None]), draw.choice([*CAUSES, None, None]),
    )  # fmt: skip


def _changes(draw: random.Random, world: World) -> list[Change]:
    instants = sorted(draw.sample(range(LENGTH), draw.randrange(6)))
    return [(world.us(t), draw.random() < 0.5) for t in instants]


class BruteMoments:
    """One log, and what the definitions make of any instant of it."""

    def __init__(self, world: World, links: Links) -> None:
        self.world, self.links = world, links
        self.brute = Brute(world)
        self.blind = [(world.us(a), world.us(b)) for a, b in runs(self.brute.unseen)]
        self.holds = {
            mode: [(world.us(a), world.us(b)) for a, b in runs(self.brute.held(mode))]
            for mode in sorted({o.mode for o in self.brute.sent if o.mode})
        }
        self.tried = self.brute.attempts()

    def at(self, at: int, wanted: str | None, zone: ZoneInfo = LONDON) -> dict[str, Any]:
        """All of the JSON but what is said and the incidents."""
        world = self.world
        seen = not any(a <= at < b for a, b in self.blind)
        pieces = self.seen_pieces(at - QUARTER, at + QUARTER)
        holder = self.holder(at, wanted) if seen else None
        wait: float | None = None
        if seen and wanted:
            if holder and holder[1] != wanted:
                wait = (holder[2] - at) / 1e6
            else:
                wait = None if self.doubtful(at, wanted) else 0.0
        on_air = [
            o for o in sorted(self.brute.sent, key=lambda o: (o.start, MODES.index(o.mode) if o.mode else -1, o.slot))
            if world.us(o.start) <= at < world.us(o.end)
        ]  # fmt: skip
        lists = {
            "attempts": [self.attempt(a, zone) for a in self.tried if abs(world.us(a.t) - at) <= QUARTER],
            "timeouts": self.timeouts(at, zone),
            "links_down": self.links_down(pieces, zone),
        }
        return {
            "at": iso(at, zone),
            "seen": seen,
            "on_air": [self.sent(o, zone) for o in on_air] if seen else None,
            "held_by": holder and holder[1],
            "held_from": holder and iso(holder[0], zone),
            "held_to": holder and iso(holder[2], zone),
            "wanted": wanted,
            "wait_s": wait,
            **{name: found if found or pieces else None for name, found in lists.items()},
        }

    def seen_pieces(self, start: int, end: int) -> list[tuple[int, int]]:
        """What was seen from `start` to `end` itself."""
        pieces, low = [], start
        for a, b in [*self.blind, (end + 1, end + 1)]:
            if low < min(a, end + 1):
                pieces.append((low, min(a, end + 1)))
            low = max(low, b)
        return pieces

    def holder(self, at: int, wanted: str | None) -> tuple[int, str, int] | None:
        every = [(a, mode, b) for mode, spans in self.holds.items() for a, b in spans if a <= at < b]
        others = [one for one in every if one[1] != wanted]
        return min(others or every, default=None)

    def doubtful(self, at: int, wanted: str) -> bool:
        rules, us = self.world.rules, self.world.us
        for lost in self.world.lost:
            longest = rules.timeout if lost.until is None else min(rules.timeout, lost.until - lost.start)
            until = us(lost.start + longest + rules.of(rules.hold, lost.mode))
            if lost.mode != wanted and us(lost.start) <= at < until:
                return True
        for page in self.world.pages:
            if (
                page.mode != wanted
                and page.end is None
                and us(page.start) <= at < us(page.start + rules.of(rules.hold, page.mode))
            ):
                return True
        nameless = [o for o in self.brute.sent if o.mode is None]
        return any(us(o.start) <= at < us(self.brute.hold(o)[1]) for o in nameless)

    def sent(self, over: Over, zone: ZoneInfo) -> dict[str, Any]:
        start, end = (iso(self.world.us(t), zone) for t in (over.start, over.end))
        return {"mode": over.mode, "slot": over.slot or None, "side": over.side, "from": start, "to": end}

    def attempt(self, tried: Refused, zone: ZoneInfo) -> dict[str, Any]:
        at = self.world.us(tried.t)
        others = [(a, mode, b) for mode, spans in self.holds.items() for a, b in spans if a <= at < b]
        others = [one for one in others if one[1] != tried.mode]
        shut = others and tried.reason in (None, "other-mode")
        wait = (min(others)[2] - at) / 1e6 if shut else None
        return {"at": iso(at, zone), "mode": tried.mode, "reason": tried.reason, "wait_s": wait}

    def timeouts(self, at: int, zone: ZoneInfo) -> list[dict[str, Any]]:
        found = []
        for over in self.world.overs:
            kind = self.brute.timeout(over)
            if kind in ("timeouts", "timeouts_estimated") and abs(self.world.us(over.end) - at) <= QUARTER:
                found.append({**self.sent(over, zone), "estimated": kind == "timeouts_estimated"})
        return found

    def links_down(self, pieces: list[tuple[int, int]], zone: ZoneInfo) -> list[dict[str, Any]]:
        found = []
        for (network, mode, target), changes in self.links.items():
            down = None
            for instant, up in [*changes, (1 << 62, True)]:
                if not up and down is None:
                    down = instant
                if up and down is not None:
                    if any(max(a, down) < min(b, instant) for a, b in pieces):
                        end = None if instant == 1 << 62 else iso(instant, zone)
                        found.append({
                            "network": network, "mode": mode, "target": target, "from": iso(down, zone), "to": end,
                        })  # fmt: skip
                    down = None
        return found


def instants(world: World, seed: int, n: int) -> list[int]:
    """Of a log: at random, and on its very edges."""
    draw = random.Random(seed)
    edges = [world.us(t) for o in world.overs for t in (o.start, o.end)] or [world.us(0)]
    low, high = world.us(-2400), world.us(LENGTH + 2400)
    return [draw.choice(edges) if draw.random() < 0.2 else draw.randrange(low, high) for _ in range(n)]


def disagreements(logs: int, each: int) -> tuple[int, list[str]]:
    """How many instants of random logs were asked about, and where the two differ."""
    asked, found = 0, []
    for seed in range(logs):
        world, links = random_log(seed)
        brute, activity, timers = BruteMoments(world, links), world.activity(), world.rules.timers()
        for place, at in enumerate(instants(world, seed, each)):
            wanted = [*MODES, None][(seed + place) % (len(MODES) + 1)]
            ours = moment(activity, at, wanted, timers, LONDON, links, ()).as_json([])
            theirs = brute.at(at, wanted)
            asked += 1
            for name, value in theirs.items():
                mine = ours[name]
                if name in ("timeouts", "links_down") and value:
                    mine, value = (sorted(map(str, one or ())) for one in (mine, value))
                if mine != value:
                    found.append(f"log {seed}, {theirs['at']}, {wanted}: {name} {ours[name]} {value}")
    return asked, found
