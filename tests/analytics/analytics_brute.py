"""Every figure again, slowly and plainly, from the words of docs/definitions.md: sets of half-second ticks and loops
over pairs.

Nothing here uses the project's span arithmetic or numpy. Times are ticks after the world's base; two ticks are a
second."""

import datetime as dt
from itertools import pairwise
from statistics import median
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd

from shared.events import MODES
from tests.analytics.analytics_world import Over, Refused, World

Ticks = set[int]


def covered(spans: list[tuple[int, int]]) -> Ticks:
    """The ticks that any of the spans covers."""
    return {tick for start, end in spans for tick in range(start, end)}


def runs(ticks: Ticks) -> list[tuple[int, int]]:
    """The unbroken runs of a set of ticks."""
    found: list[tuple[int, int]] = []
    for tick in sorted(ticks):
        if found and found[-1][1] == tick:
            found[-1] = (found[-1][0], tick + 1)
        else:
            found.append((tick, tick + 1))
    return found


class Brute:
    """One world and what the definitions make of it."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.start, self.end = world.window
        self.inside = set(range(self.start, self.end))
        pages = [Over(p.start, p.end, p.mode, p.slot, side=None) for p in world.pages if p.end is not None]
        self.sent = [*world.overs, *pages]  # all transmissions
        self.all_overs = covered([(o.start, o.end) for o in self.sent])
        self.unseen = covered(world.blind) - self.all_overs  # wherever it lies
        self.blind = self.unseen & self.inside
        self.seen = self.inside - self.blind

    def now(self, tick: int) -> bool:
        """A count belongs to the window that contains its start instant."""
        return self.start <= tick < self.end

    def seconds(self, ticks: Ticks) -> float:
        """Clipped to the window."""
        return len(ticks & self.inside) / 2

    def share(self, count: int) -> float | None:
        """Over the seen time."""
        return count / len(self.seen) if self.seen else None

    def nothing_ended(self) -> bool:
        """Overs began, and of none of them an end was seen."""
        return not any(self.now(o.start) for o in self.world.overs) and any(self.now(x.start) for x in self.world.lost)

    def nothing_measured(self) -> bool:
        """Something was on the air, and of nothing is known for how long."""
        lengthless = any(p.end is None and self.now(p.start) for p in self.world.pages)
        return not self.all_overs & self.inside and (lengthless or any(self.now(x.start) for x in self.world.lost))

    # Time on the air

    def airtime(self, mode: str, slot: int | None = None) -> Ticks:
        return covered([
            (o.start, o.end) for o in self.sent if o.mode == mode and (slot is None or o.slot == slot)
        ])  # fmt: skip

    def keyed(self) -> Ticks:
        rules = self.world.rules
        return covered([(o.start, o.end + rules.of(rules.tail, o.mode)) for o in self.sent]) - self.unseen

    def duty(self, width: int) -> dict[str, Any]:
        if not self.seen:
            return {"share": None, "from": None, "to": None}
        keyed = self.keyed()
        best: tuple[int, int] | None = None
        inside = sum(tick in keyed for tick in range(self.start - width, self.start))
        for end in range(self.start, self.end + 1):  # slides by one tick
            if best is None or inside > best[0]:
                best = (inside, end)
            inside += (end in keyed) - (end - width in keyed)
        assert best is not None
        if best[0] == 0:
            return {"share": None if self.nothing_measured() else 0.0, "from": None, "to": None}
        return {"share": best[0] / width, "from": self.iso(best[1] - width), "to": self.iso(best[1])}

    def iso(self, tick: int) -> str:
        return pd.Timestamp(self.world.us(tick), unit="us", tz="UTC").tz_convert("Europe/London").isoformat()

    # Sharing

    def hold(self, over: Over) -> tuple[int, int]:
        """After an over of mode m ends, cut short where an over of any mode starts."""
        rules = self.world.rules
        end = over.end + rules.of(rules.hold, over.mode)
        for other in self.sent:
            if other is not over and over.end <= other.start:
                end = min(end, other.start)
        return over.end, end

    def held(self, mode: str) -> Ticks:
        return self.airtime(mode) | covered([self.hold(o) for o in self.sent if o.mode == mode])

    def idle_hold(self, mode: str | None = None) -> Ticks:
        """Of one mode, or of all overs."""
        return (
            covered([self.hold(o) for o in self.sent if mode is None or o.mode == mode]) - self.all_overs - self.unseen
        )

    def attempts(self) -> list[Refused]:
        last: dict[tuple[str | None, str | None, str | None], int] = {}
        found = []
        for refused in sorted(self.world.refusals, key=lambda r: r.t):
            key = (refused.mode, refused.side, refused.station)
            if key not in last or refused.t - last[key] >= 20:
                found.append(refused)
            last[key] = refused.t
        return found

    def shut_outs(self) -> list[tuple[str, str, float | None]]:
        """(holder, wanted, wait) of each in the window."""
        holds = {mode: runs(self.held(mode)) for mode in MODES}
        found = []
        for attempt in self.attempts():
            holders = [
                (start, MODES.index(mode), end)
                for mode in MODES if mode != attempt.mode
                for start, end in holds[mode] if start <= attempt.t < end
            ]  # fmt: skip
            shut = attempt.reason == "other-mode" or (attempt.reason is None and holders)
            if not shut or not self.now(attempt.t):
                continue
            if holders:
                _, mode, end = min(holders)
                found.append((MODES[mode], attempt.mode or "unknown", (end - attempt.t) / 2))
            else:
                found.append(("unknown", attempt.mode or "unknown", None))
        return found

    def shut_out_rows(self) -> list[dict[str, Any]] | None:
        if not self.seen:
            return None
        shut = self.shut_outs()
        rows = []
        for held_by, wanted in {(held_by, wanted) for held_by, wanted, _ in shut}:
            waits = [wait for *pair, wait in shut if pair == [held_by, wanted]]
            known = [wait for wait in waits if wait is not None]
            rows.append({
                "held_by": held_by, "wanted": wanted, "attempts": len(waits),
                "mean_wait_s": sum(known) / len(known) if known else None,
            })  # fmt: skip
        return sorted(rows, key=lambda row: (-row["attempts"], row["held_by"], row["wanted"]))

    def likely_waiters(self) -> int | None:
        begun = [o for o in self.world.overs if self.now(o.start)]
        if not self.seen or self.nothing_ended() or (begun and not any(o.side for o in begun)):
            return None
        rules = self.world.rules
        whole = {
            (o.mode, o.end + rules.of(rules.hold, o.mode))
            for o in self.sent
            if self.hold(o)[1] == o.end + rules.of(rules.hold, o.mode)
        }
        ends = [
            (mode, end) for mode in MODES for _, end in runs(self.held(mode)) if (mode, end) in whole
        ]  # ran out by themselves
        return sum(
            any(mode != o.mode and 0 <= o.start - end < 6 for mode, end in ends)
            for o in self.world.overs if o.side == "air" and o.mode and self.now(o.start)
        )  # fmt: skip

    def doublings(self, mode: str) -> int:
        overs = [o for o in self.world.overs if o.mode == mode and o.station]
        pairs = 0
        for i, one in enumerate(overs):
            for other in overs[:i]:
                start, end = max(one.start, other.start), min(one.end, other.end)
                apart = one.slot != other.slot or one.station == other.station
                pairs += not apart and end - start >= 1 and self.now(start)
        return pairs + sum(a.mode == mode and a.reason == "busy" and self.now(a.t) for a in self.attempts())

    def risk(self, mode: str) -> float | None:
        others: Ticks = set()
        for other in MODES:
            if other != mode:
                others |= self.held(other)
        return self.share(len(others & self.seen))

    # Time-outs

    def timeout(self, over: Over) -> str | None:
        """Which kind, if any."""
        limit = self.world.rules.timeout
        length = over.end - over.start
        if over.cause == "timeout":
            return "timeouts"
        if self.overrun(over):
            return None
        if over.cause is None and length >= limit - 1:
            return "timeouts_estimated"
        return "near_timeouts" if length >= 0.9 * limit else None

    def overrun(self, over: Over) -> bool:
        return over.end - over.start > self.world.rules.timeout + self.world.rules.grace

    # Talk

    def conversations(self) -> list[list[Over]]:
        found = []
        for key in {(o.mode, o.slot, o.target) for o in self.world.overs}:
            group = [o for o in self.world.overs if (o.mode, o.slot, o.target) == key]
            run: list[Over] = []
            for over in sorted(group, key=lambda o: (o.start, o.end)):
                if run and over.start > max(o.end for o in run) + 60:
                    found.append(run)
                    run = []
                run.append(over)
            found.append(run)
        return [run for run in found if len(run) >= 2 and len({o.station for o in run if o.station}) >= 2]

    def talk(self) -> dict[str, Any]:
        talks = self.conversations()
        gaps = [
            (after.start - before.end) / 2
            for talk in talks for before, after in pairwise(talk)
            if before.station and after.station and before.station != after.station
            and after.start >= before.end and self.now(before.end)
        ]  # fmt: skip
        wide = self.world.rules.wide
        broad = [talk for talk in talks if any((mode, talk[0].target) in wide for mode in {None, talk[0].mode})]
        local = [talk for talk in broad if all(o.side == "air" for o in talk)]
        courtesy = self.world.rules.courtesy / 2
        begun = [o for o in self.world.overs if self.now(o.start)]
        unnamed = (
            begun
            and not any(o.station for o in begun)
            and not gaps
            and not any(self.now(talk[0].start) for talk in talks)
        )
        if not self.seen or unnamed or self.nothing_ended():
            return dict.fromkeys(
                ("conversations", "turnaround_median_s", "short_gap_share", "local_on_wide_s", "local_on_wide")
            )
        touching = [
            talk for talk in broad if any(self.now(o.start) or self.inside & set(range(o.start, o.end)) for o in talk)
        ]
        undecided = touching and not any(talk in local or any(o.side == "link" for o in talk) for talk in touching)
        found: dict[str, Any] = {
            "conversations": sum(self.now(talk[0].start) for talk in talks),
            "turnaround_median_s": median(gaps) if gaps else None,
            "short_gap_share": sum(gap < courtesy for gap in gaps) / len(gaps) if gaps else None,
            "local_on_wide_s": self.seconds(covered([(o.start, o.end) for talk in local for o in talk])),
            "local_on_wide": sum(self.now(talk[0].start) for talk in local),
        }
        return found | dict.fromkeys(("local_on_wide_s", "local_on_wide") if undecided else ())

    def kerchunks(self, mode: str) -> int:
        talking = [id(o) for talk in self.conversations() for o in talk]
        return sum(
            o.mode == mode and o.side == "air" and o.end - o.start < 3 and id(o) not in talking and self.now(o.start)
            for o in self.world.overs
        )

    # The whole

    def mode(self, mode: str) -> dict[str, Any] | None:
        """The figures of one mode; None where it is not in the window."""
        started = [o for o in self.world.overs if o.mode == mode and self.now(o.start)]
        held = self.held(mode) & self.inside
        tried = [a for a in self.attempts() if a.mode == mode and self.now(a.t)]
        paged = [p for p in self.world.pages if p.mode == mode and self.now(p.start)]
        if not self.seen or not (
            started or paged or held or tried or any(x.mode == mode and self.now(x.start) for x in self.world.lost)
        ):
            return None
        slots = {o.slot for o in self.sent if o.mode == mode}
        cutting = [o for o in self.sent if o.mode == mode and self.inside & set(range(o.start, o.end))]
        slotted = any(o.slot for o in started + cutting)
        shut = self.shut_outs()
        kinds = [self.timeout(o) for o in started]
        found = {
            "airtime_s": self.seconds(self.airtime(mode)),
            "slot_s": {str(n): self.seconds(self.airtime(mode, n)) for n in (1, 2)} if slotted else {},
            "both_slots_s": self.seconds(self.airtime(mode, 1) & self.airtime(mode, 2)) if slotted else None,
            "erlang": self.share(sum(len(self.airtime(mode, slot) & self.inside) for slot in slots)),
            "overs": len(started),
            "air_overs": sum(o.side == "air" for o in started),
            "link_overs": sum(o.side == "link" for o in started),
            "stations": len({o.station for o in started if o.station}),
            "idle_hold_s": self.seconds(self.idle_hold(mode)),
            "timeouts": kinds.count("timeouts"),
            "timeouts_estimated": kinds.count("timeouts_estimated"),
            "near_timeouts": kinds.count("near_timeouts"),
            "overruns": sum(self.overrun(o) for o in started),
            "pages": len(paged),
            **self.estimated(mode),
            "timeout_lockouts": sum(a.reason == "lockout" for a in tried),
            "kerchunks": self.kerchunks(mode),
            "shut_outs_suffered": sum(wanted == mode for _, wanted, _ in shut),
            "shut_outs_caused": sum(held_by == mode for held_by, _, _ in shut),
            "shut_out_risk": self.risk(mode),
            "doublings": self.doublings(mode),
        }
        lost = any(x.mode == mode and self.now(x.start) for x in self.world.lost)
        if not found["airtime_s"] and (lost or any(p.end is None for p in paged)):
            found |= dict.fromkeys(("airtime_s", "erlang", "idle_hold_s"))
        if lost and not started:
            found["stations"] = None
        if started and not any(o.station for o in started):
            found |= {"stations": None, "doublings": found["doublings"] or None}
        if started and not any(o.side for o in started):
            found |= dict.fromkeys(("air_overs", "link_overs", "kerchunks"))
        return found

    def estimated(self, mode: str | None = None) -> dict[str, Any]:
        """What is estimated of pages whose length is not known, of a mode or of all."""
        pages = [p for p in self.world.pages if p.end is None and mode in (None, p.mode)]
        begun = [p for p in pages if self.now(p.start)]
        count = sum(p.likely is not None for p in begun)
        likely = covered([(p.start, p.start + p.likely) for p in pages if p.likely is not None])
        seconds = None if begun and not count else self.seconds(likely)
        return {"pages_estimated": count, "pages_airtime_estimated_s": seconds}

    def channel(self) -> dict[str, Any]:
        started = [o for o in self.world.overs if self.now(o.start)]
        lost = [x for x in self.world.lost if self.now(x.start)]
        longest = [min(self.world.rules.timeout, (x.until or 10**9) - x.start) for x in lost]
        found = {
            "seen_s": len(self.seen) / 2,
            "airtime_s": self.seconds(self.all_overs),
            "occupancy": self.share(len(self.all_overs & self.inside)),
            "keyed_s": self.seconds(self.keyed()),
            "idle_hold_s": self.seconds(self.idle_hold()),
            "overs": len(started),
            "pages": sum(self.now(p.start) for p in self.world.pages),
            **self.estimated(),
            "overruns": sum(self.overrun(o) for o in started),
            "unfinished": len(lost),
            "unfinished_longest_s": sum(longest) / 2,
            "stations": len({o.station for o in started if o.station}),
        }
        if (started and not any(o.station for o in started)) or self.nothing_ended():
            found["stations"] = None
        if self.nothing_measured():
            found |= {name: found[name] or None for name in ("airtime_s", "occupancy", "keyed_s", "idle_hold_s")}
        return found if self.seen else dict.fromkeys(found) | {"seen_s": 0.0}


MINUTE = pd.Timedelta("1min")


def busy_hour(
    streams: list[Ticks], base: dt.datetime, window: tuple[dt.date, dt.date], blind: Ticks
) -> tuple[str, float, int] | None:
    """By pandas' calendar, in ticks of a minute after `base`: quarter by quarter and day by day, from the local date up
    to another.
    """
    zone = ZoneInfo("Europe/London")
    end = pd.Timestamp(window[1]).tz_localize(zone)
    best: tuple[str, float, int] | None = None
    dates = pd.date_range(window[0], window[1], tz=zone)
    minutes_of = [
        range((a - pd.Timestamp(base)) // MINUTE, (b - pd.Timestamp(base)) // MINUTE) for a, b in pairwise(dates)
    ]
    days_seen = sum(not blind.issuperset(minutes) for minutes in minutes_of)
    for clock in pd.timedelta_range("0min", "23h45min", freq="15min"):
        days = []
        for day in pd.date_range(window[0], window[1], inclusive="left"):
            start = (day + clock).tz_localize(
                zone, ambiguous=True, nonexistent="NaT"
            )  # ambiguous: the first, summer time
            if start is pd.NaT:
                continue
            first, after = (
                (t - pd.Timestamp(base)) // pd.Timedelta("1min") for t in (start, min(start + pd.Timedelta("1h"), end))
            )
            minutes = set(range(first, after))
            if len(minutes - blind) >= 30:
                days.append(sum(len((minutes & stream) - blind) for stream in streams) / len(minutes - blind))
        if not days or len(days) < days_seen / 2:
            continue  # too few days have this quarter
        mean = sum(days) / len(days)
        if best is None or mean > best[1] + 1e-9:
            best = (str(dt.time(clock.components.hours, clock.components.minutes))[:5], mean, len(days))
    return best
