"""The people around the repeater: they call, talk, wait, give up and double, one instant after the other.

A discrete simulation: a heap of things that are due, each of which may make others due later. Nothing looks ahead, so
what happens at an instant depends only on what happened before it.
"""

import heapq
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from server.demo.repeater import Outages, Repeater
from server.demo.world import HABITS, TIMEOUT_S, Person, Target, targets_of

LISTENS_MS = 15_000  # a channel that was silent for this long looks free
PATIENCE_MS = 240_000
FREE_FM = Target("fm", None, "Analogue", "local", None, 1, 0)


@dataclass(eq=False)
class Talk:
    """A conversation under way, or somebody's wish for one."""

    target: Target
    people: list[Person]
    left: int  #: overs still to come
    until: int = 0  #: a net goes on until then, whatever `left` says
    last: Person | None = None
    kerchunk: bool = False


class Chooser:
    """Draws from a list by weight."""

    def __init__(self, items: list[Any], weights: list[float]) -> None:
        self.items = items
        self.steps = list(np.cumsum(weights) / np.sum(weights)) if items else []

    def draw(self, rng: np.random.Generator) -> Any:
        return self.items[min(bisect_right(self.steps, rng.random()), len(self.items) - 1)]

    def several(self, rng: np.random.Generator, count: int) -> list[Any]:
        """`count` different ones, or all there are."""
        drawn: list[Any] = []
        while len(drawn) < min(count, len(self.items)):
            one = self.draw(rng)
            if one not in drawn:
                drawn.append(one)
        return drawn


class Callers:
    """Everything that is due, and what people do when it is."""

    def __init__(self, rng: np.random.Generator, repeater: Repeater, people: tuple[Person, ...], calm: Outages) -> None:
        self.rng, self.repeater, self.calm = rng, repeater, calm
        self.due: list[tuple[int, int, Callable[..., None], tuple[Any, ...]]] = []
        self.count = 0
        self.waited = 0  #: how many waited for another mode to let go, and then came up
        self.talks: dict[tuple[str, int | None], Talk] = {}
        self.carriers: list[tuple[int, int, float]] = []
        self.pages: list[tuple[int, str, float]] = []
        self.near, self.far, self.calls, self.streams = {}, {}, {}, {}
        for mode in HABITS:
            near = [one for one in people if mode in one.modes and not one.far]
            far = [one for one in people if mode in one.modes and one.far]
            self.near[mode] = Chooser(near, [one.weight for one in near])
            self.far[mode] = Chooser(far, [one.weight for one in far])
            targets = targets_of(mode)
            self.calls[mode] = Chooser(list(targets), [one.calls for one in targets])
            linked = [one for one in targets if one.streams]
            self.streams[mode] = Chooser(linked, [one.streams for one in linked])

    def at(self, t: int, act: Callable[..., None], *what: Any) -> None:
        """Make something due."""
        self.count += 1
        heapq.heappush(self.due, (t, self.count, act, what))

    def run(self) -> None:
        """Let everything that is due happen, in order, unless the host is down or the hour is one that nobody calls
        in.
        """
        while self.due:
            t, _, act, what = heapq.heappop(self.due)
            if not (self.calm.at(t) or self.repeater.down.at(t)):
                act(t, *what)

    # What people start

    def call(self, t: int, mode: str) -> None:
        """A local station calls: a bare key-up, a call that nobody answers, or a conversation."""
        rng, habit, target = self.rng, HABITS[mode], self.calls[mode].draw(self.rng)
        kind = rng.random()
        if kind < habit.kerchunks:
            talk = Talk(target, self.near[mode].several(rng, 1), 1, kerchunk=True)
        elif kind < habit.kerchunks + 0.22:
            talk = Talk(target, self.near[mode].several(rng, 1), int(rng.integers(1, 3)))
        else:
            far = {"wide": 0.55, "regional": 0.35}.get(target.reach, 0.0) if habit.network else 0.0
            guest = self.far[mode].several(rng, 1) if rng.random() < far else []
            near = self.near[mode].several(rng, 2 + int(rng.poisson(0.4)) - len(guest))
            talk = Talk(target, near + guest, 2 + int(rng.negative_binomial(2, 2 / habit.overs)))
        self.open_talk(t, talk)

    def stream(self, t: int, mode: str) -> None:
        """People far away talk on a linked target; now and then a local joins them."""
        target = self.streams[mode].draw(self.rng)
        there = self.far[mode].several(self.rng, 2 + int(self.rng.poisson(0.6)))
        here = self.near[mode].several(self.rng, 1) if self.rng.random() < 0.15 else []
        self.open_talk(t, Talk(target, there + here, 2 + int(self.rng.negative_binomial(2, 2 / HABITS[mode].overs))))

    def net(self, t: int, target: Target, until: int) -> None:
        """A weekly meeting on the air: its controller, named first, calls one after the other."""
        here = self.near[target.mode].several(self.rng, int(self.rng.integers(8, 15)))
        self.open_talk(t, Talk(target, here, 0, until=until))

    def open_talk(self, t: int, talk: Talk) -> None:
        """Whoever hears a conversation in their own mode joins it, gives up, or (seldom) presses all the same."""
        key = talk.target.mode, talk.target.slot
        busy_until = max(self.repeater.ends(*key, "air"), self.repeater.ends(*key, "link"))
        heard = self.talks.get(key)
        if heard and t < busy_until + LISTENS_MS and not talk.until:
            choice = self.rng.random()
            if choice < 0.3 and heard.target is talk.target and not talk.kerchunk:
                heard.people += [one for one in talk.people if one not in heard.people]
                heard.left += 3
            elif choice < 0.38:
                self.press(t, talk, talk.people[0], t, 0, True)
            return
        self.talks[key] = talk
        self.press(t, talk, talk.people[0], t, 0, False)

    # What a press of the key leads to

    def press(self, t: int, talk: Talk, person: Person, since: int, tries: int, extra: bool) -> None:
        """Somebody keys up. `extra` is a press besides the conversation's own next over, such as one that doubles."""
        repeater, target = self.repeater, talk.target
        side = "link" if person.far else "air"
        if person.far and repeater.link_away(target.mode, t):
            talk.people = [one for one in talk.people if not one.far]
            if len(talk.people) > 1 and not extra:
                self.next_over(talk, t + 20_000)
        elif repeater.held_from(target.mode, t):
            repeater.refuse(t, target, side, person, "other-mode")
            self.turned_away(t, talk, person, since, tries, extra)
        elif repeater.locked.get(person.callsign, 0) > t and side == "air":
            repeater.refuse(t, target, side, person, "lockout")
        elif t <= max(repeater.ends(target.mode, target.slot, way) for way in ("air", "link")):
            self._onto_another(t, talk, person, since, tries, extra)
        else:
            self.speak(t, talk, person, extra)

    def _onto_another(self, t: int, talk: Talk, person: Person, since: int, tries: int, extra: bool) -> None:
        """Somebody keys up while an over of the mode is on: refused on its own side, heard as a double from the other,
        or left for later.
        """
        repeater, target = self.repeater, talk.target
        side, across = ("link", "air") if person.far else ("air", "link")
        own, other = (repeater.ends(target.mode, target.slot, way) for way in (side, across))
        if t <= own and (extra or self.rng.random() < 0.05):
            repeater.refuse(t, target, side, person, "busy")
        if t > own and extra:
            self.speak(t, talk, person, True)
        elif not extra and max(own, other) - since < PATIENCE_MS:
            self.at(max(own, other) + self.gap_ms(person), self.press, talk, person, since, tries, False)

    def turned_away(self, t: int, talk: Talk, person: Person, since: int, tries: int, extra: bool) -> None:
        """Another mode holds the repeater: try again at once, wait until it lets go, come back later, or leave it."""
        rng = self.rng
        if person.far:  # those far away don't know; their talk goes on without us
            if not extra:
                self.next_over(talk, t + self.length_ms(talk, person))
            return
        choice = rng.random()
        if tries < 4 and choice < 0.45:
            self.at(t + int(rng.uniform(1500, 7000)), self.press, talk, person, since, tries + 1, extra)
        elif choice < 0.75 and not talk.kerchunk:
            self.at(self.repeater.lets_go + int(rng.uniform(150, 2700)), self.watch, talk, person, since, extra)
        elif choice < 0.85 and not talk.kerchunk:
            self.at(t + int(rng.uniform(60_000, 400_000)), self.press, talk, person, since, 9, extra)

    def watch(self, t: int, talk: Talk, person: Person, since: int, extra: bool) -> None:
        """Who waits looks whether the other mode has let go."""
        if t - since > PATIENCE_MS:
            return
        if not self.repeater.held_from(talk.target.mode, t):
            if t >= self.repeater.lets_go:
                self.waited += 1
            self.press(t, talk, person, t, 9, extra)
        else:
            self.at(self.repeater.lets_go + int(self.rng.uniform(150, 2700)), self.watch, talk, person, since, extra)

    def speak(self, t: int, talk: Talk, person: Person, extra: bool) -> None:
        """The over itself, and what follows from it."""
        rng = self.rng
        over = self.repeater.key_up(
            t, talk.target, "link" if person.far else "air", person, self.length_ms(talk, person)
        )
        end = over.end or t
        if over.cause == "timeout" and not person.far and rng.random() < 0.6:
            self.at(end + int(rng.uniform(800, 6000)), self.press, talk, person, end, 9, True)
        if not extra:
            talk.last = person
            talk.left -= 1
            self.next_over(talk, end)

    def next_over(self, talk: Talk, end: int) -> None:
        """Whose turn it is after an over that ended, or the end of the conversation."""
        rng = self.rng
        key = talk.target.mode, talk.target.slot
        if talk.left <= 0 and end >= talk.until:
            if self.talks.get(key) is talk:
                del self.talks[key]
            return
        if talk.until and talk.last is not talk.people[0] and rng.random() < 0.5:
            person = talk.people[0]  # the controller of a net speaks between the others
        else:
            others = [one for one in talk.people if one is not talk.last] or talk.people
            person = others[int(rng.integers(len(others)))]
        gap = self.gap_ms(person) if len(talk.people) > 1 else int(rng.uniform(6_000, 25_000))
        self.at(end + gap, self.press, talk, person, end + gap, 0, False)
        if len(talk.people) > 2 and rng.random() < 0.012:
            rival = talk.people[int(rng.integers(len(talk.people)))]
            if rival is not person:
                self.at(end + gap + int(rng.uniform(100, 1500)), self.press, talk, rival, end, 9, True)

    def gap_ms(self, person: Person) -> int:
        """How long somebody leaves before their over; now and then they had gone to find a pencil."""
        if self.rng.random() < 0.03:
            return int(self.rng.uniform(8_000, 26_000))
        return max(150, int(1000 * person.gap_s * self.rng.lognormal(0, 0.5)))

    def length_ms(self, talk: Talk, person: Person) -> int:
        """How long somebody would like to speak."""
        if talk.kerchunk:
            return int(self.rng.uniform(250, 1400))
        wish = max(400, int(1000 * person.over_s * self.rng.lognormal(0, 0.75)))
        if person.heeds_timer and wish > TIMEOUT_S * 930:
            return int(1000 * self.rng.uniform(0.85, 0.985) * TIMEOUT_S)
        return wish

    # What is no one's talk

    def page(self, t: int, pager: str, seconds: float) -> None:
        """A POCSAG page goes out when the repeater is free."""
        if t < self.repeater.lets_go:
            self.at(self.repeater.lets_go + 1000, self.page, pager, seconds)
        else:
            self.pages.append((t, pager, seconds))

    def noise(self, t: int, ms: int, rssi_dbm: float, keys: bool) -> None:
        """A burst opens the receiver; where nothing else has the repeater, it may key it as FM that carries nothing."""
        if keys and not self.repeater.held_from("fm", t) and t > self.repeater.ends("fm", None, "air"):
            self.repeater.key_up(t, FREE_FM, "air", None, ms)
        elif not self.carriers or t > self.carriers[-1][1]:
            self.carriers.append((t, t + ms, rssi_dbm))

    def stick(self, t: int, target: Target, person: Person, until: int) -> None:
        """A transmitter that does not let go, as soon as nobody else holds the repeater."""
        free = max(self.repeater.lets_go, self.repeater.ends(target.mode, target.slot, "air"))
        if t < free:
            self.at(free + 500, self.stick, target, person, until)
        else:
            self.repeater.key_up(t, target, "air", person, 0, ends_at=until)
