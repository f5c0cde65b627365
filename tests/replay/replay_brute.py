"""A replay again, slowly and plainly, from the words of docs/definitions.md (Replay): lists, loops and sets of
half-second ticks.

Nothing here uses the project's code or numpy. Times are ticks; two ticks are a second.
"""

from itertools import pairwise
from typing import Any

from tests.replay.replay_world import Over, Refused, World


def hold_of(hold: dict[str, float], mode: str | None) -> int:
    """Ticks."""
    return round(2 * hold.get(mode or "default", hold["default"]))


def attempts(world: World) -> list[Refused]:
    """Refusals of one mode, side and station less than 10 s after the one before are one attempt; busy and lockout are
    not asked about.
    """
    last: dict[tuple[str | None, str | None, str | None], int] = {}
    found = []
    for one in sorted(world.refusals, key=lambda refused: refused.t):
        key = (one.mode, one.side, one.station)
        if key not in last or one.t - last[key] >= 20:
            found.append(one)
        last[key] = one.t
    return [one for one in found if one.reason in ("other-mode", None)]


class Walked:
    """One walk: who took place, who was displaced, and who held when."""

    def __init__(self, overs: list[Over], hold: dict[str, float], let_in: set[int] | None) -> None:
        self.took_place: list[Over] = []
        self.displaced: list[Over] = []
        self.met: set[int] = set()
        self.states: list[tuple[int, str | None, int]] = []  # from which tick who holds, until when
        holder: str | None = "nobody"
        until = -(10**9)
        for index, over in enumerate(overs):
            held = over.start < until
            if over.mode is None:  # of any mode: it meets no hold and has none, and cuts short one in which it starts
                self.took_place.append(over)
                if held and over.start >= max(one.end for one in self.took_place if one.mode == holder):
                    until = over.start
                    self.states.append((over.start, holder, until))
                continue
            if held and over.mode != holder:
                self.met.add(index)
                if let_in is not None and index not in let_in:
                    self.displaced.append(over)
                    continue
            self.took_place.append(over)
            holder = over.mode
            until = max(one.end for one in self.took_place if one.mode == holder) + hold_of(hold, holder)
            self.states.append((over.start, holder, until))

    def other_holds(self, one: Refused) -> bool:
        """Whether a mode other than the caller's holds then."""
        state = [found for found in self.states if found[0] <= one.t]
        if not state:
            return False
        _, holder, until = state[-1]
        return one.t < until and (holder != one.mode or one.mode is None)


def gaps(world: World) -> list[tuple[int, int, str | None]]:
    """Turnaround gaps: (start, end, mode)."""
    found = []
    for key in {(over.mode, over.slot, over.target) for over in world.overs}:
        mine = sorted((o for o in world.overs if (o.mode, o.slot, o.target) == key), key=lambda o: (o.start, o.end))
        runs: list[list[Over]] = []
        for over in mine:
            if runs and over.start - max(one.end for one in runs[-1]) <= 60:
                runs[-1].append(over)
            else:
                runs.append([over])
        for run in runs:
            if len({over.station for over in run} - {None}) < 2:
                continue
            for one, after in pairwise(run):
                if one.station and after.station and one.station != after.station and after.start >= one.end:
                    found.append((one.end, after.start, key[0]))
    return found


def idle_hold(took_place: list[Over], hold: dict[str, float], window: tuple[int, int]) -> float:
    """Seconds: after each over its hold, cut short where an over of any mode starts, less all overs."""
    on_air = {tick for over in took_place for tick in range(over.start, over.end)}
    idle: set[int] = set()
    for over in took_place:
        end = over.end + hold_of(hold, over.mode)
        for other in took_place:
            if other is not over and over.end <= other.start:
                end = min(end, other.start)
        idle |= set(range(over.end, end))
    return len((idle - on_air) & set(range(*window))) / 2


def outcome(world: World, hold: dict[str, float], timeout: float) -> dict[str, Any]:
    """The figures under one set of timers, and what stands apart."""
    overs = sorted(world.overs, key=lambda over: over.start)
    in_force = Walked(overs, world.hold, None)
    then = Walked(overs, hold, in_force.met)
    inside = lambda tick: world.window[0] <= tick < world.window[1]  # noqa: E731
    tried = [one for one in attempts(world) if inside(one.t)]
    displaced = [over for over in then.displaced if inside(over.start)]
    opened = [(a + hold_of(hold, m), b, m, a) for a, b, m in gaps(world) if inside(a) and b - a > hold_of(hold, m)]
    broken = [
        gap
        for gap in opened
        if any(gap[0] <= one.t < gap[1] and (one.mode != gap[2] or one.mode is None) for one in tried)
    ]
    cut = [(o.end - o.start) / 2 - timeout for o in overs if inside(o.start) and (o.end - o.start) / 2 > timeout]
    return {
        "shut_outs": sum(map(then.other_holds, tried)) + sum(over.side == "air" for over in displaced),
        "idle_hold_s": idle_hold(then.took_place, hold, world.window),
        "open_gaps": len(opened),
        "break_ins": len(broken),
        "overs_cut": len(cut),
        "seconds_cut": sum(cut),
        "displaced_link_overs": sum(over.side == "link" for over in displaced),
        "unexplained_attempts": sum(not in_force.other_holds(one) for one in tried),
    }
