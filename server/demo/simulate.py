"""Weeks of traffic on one repeater, with everything about it known: `simulate` gives the events that its hosts log, and
the truth.
"""

import datetime as dt
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from server.demo import world
from server.demo.callers import Callers
from server.demo.hearing import Hearing
from server.demo.incidents import MS, Incident, flapping, local_ms, nets, plan
from server.demo.ledger import Ledger
from server.demo.repeater import Outages, Repeater
from server.demo.unseen import unseen
from shared.columns import EVENT_SCHEMA
from shared.zones import from_us, iso

ALIVE_MS, OTHERS_ALIVE_MS = 300_000, 600_000
# nobody calls in the last minutes before the power fails and before a run ends: longer than any over and hold
CALM_MS = 300_000
HOUR_MS = 3_600_000
STOPPED = ("planned-restart", "power-cut")  # while these last the host is off
HOST, LINKS, PAGER = "host", "links", "pager"
PAGE_SECONDS = (
    0.933,
    1.387,
    1.84,
)  # one, two and three batches at 1,200 bit/s with 576 bits of preamble, to the millisecond


@dataclass(frozen=True)
class Simulated:
    """A run: `logs` has the events of each box, in the order it writes them (columns of shared.events.EVENT_SCHEMA)."""

    logs: dict[str, pl.DataFrame]
    truth: dict[str, Any]
    zone: ZoneInfo
    start: int  #: microseconds UTC
    end: int

    @property
    def events(self) -> pl.DataFrame:
        """All boxes' events in order of time."""
        return pl.concat(self.logs.values()).sort("t", maintain_order=True)


def simulate(
    seed: int = 1,
    first_day: dt.date = dt.date(2026, 8, 24),
    weeks: int = 13,
    zone: ZoneInfo | None = None,
    incidents: bool = True,
) -> Simulated:
    """`weeks` whole weeks from the local midnight of `first_day`; the same arguments give the same run."""
    zone = zone or ZoneInfo(world.ZONE)
    rng = np.random.default_rng(seed)
    edges = [local_ms(first_day + dt.timedelta(days=7 * week), 0, 0, zone) for week in range(weeks + 1)]
    planned = {one.kind: one for one in plan(first_day, weeks, zone)} if incidents else {}
    links = {network: _flaps(rng, network, edges, planned) for network in world.NETWORKS}
    callers = _callers(rng, links, planned, edges, zone)
    _arrivals(rng, callers, edges, zone)
    for start, end, mode, name in nets(first_day, weeks, zone):
        callers.at(start, callers.net, next(one for one in world.targets_of(mode) if one.name == name), end)
    _plant(rng, callers, planned, zone)
    callers.run()
    cut, repeater = planned.get("power-cut"), callers.repeater
    if cut:
        _lose_power(callers, cut)
    logs = {
        HOST: _host_log(repeater, callers, planned, edges),
        LINKS: _links_log(links, cut, edges),
        PAGER: _pager_log(callers, cut, edges),
    }
    truth = _truth(seed, repeater, callers, planned, edges, zone, logs)
    return Simulated(logs, truth, zone, edges[0] * MS, edges[-1] * MS)


def _callers(
    rng: np.random.Generator,
    links: dict[str, Outages],
    planned: dict[str, Incident],
    edges: list[int],
    zone: ZoneInfo,
) -> Callers:
    """Everybody who may call, and the repeater that they call."""
    down = Outages([(planned[kind].start, planned[kind].end) for kind in planned if kind in STOPPED])
    ends = [*([planned["power-cut"].start] if "power-cut" in planned else []), edges[-1]]
    people = world.people()
    repeater = Repeater(rng, down, links, Hearing(planned, people, zone))
    return Callers(rng, repeater, people, Outages([(at - CALM_MS, at) for at in ends]))


def _lose_power(callers: Callers, cut: Incident) -> None:
    """An over was on the air when the power failed."""
    chat = next(one for one in world.TARGETS if one.name == "99901")
    callers.repeater.lose_power(cut.start - 40_000, chat, callers.near["dmr"].items[0])
    callers.repeater.overs.sort(key=lambda over: over.start)


def _flaps(rng: np.random.Generator, network: str, edges: list[int], planned: dict[str, Incident]) -> Outages:
    """When a network is away: a few short losses a week, and the planted ones."""
    spans = []
    for week, after in pairwise(edges):
        for at in rng.uniform(week + HOUR_MS, after - HOUR_MS, size=rng.poisson(1.2)):
            spans.append((int(at), int(at) + int(rng.uniform(40_000, 360_000))))
    outage, cut, flaps = (planned.get(kind) for kind in ("link-outage", "power-cut", "link-flaps"))
    kept: list[tuple[int, int]] = [(outage.start, outage.end)] if outage and network == "fellnet" else []
    kept += flapping(flaps) if flaps and network == "mootnet" else []
    avoid = [(one.start - HOUR_MS, one.end + HOUR_MS) for one in (outage, cut) if one]
    for start, end in sorted(spans):
        if all(end < begun or start > over for begun, over in [*avoid, *((a - 60_000, b + 60_000) for a, b in kept)]):
            kept.append((start, end))
    return Outages(kept)


def _arrivals(rng: np.random.Generator, callers: Callers, edges: list[int], zone: ZoneInfo) -> None:
    """Poisson arrivals whose rate follows the local hour, so that a clock change moves people's habits with it."""
    hours = np.arange(edges[0], edges[-1], HOUR_MS)
    local = [from_us(int(hour) * MS, zone) for hour in hours]
    shares = world.hourly_shares()[[one.weekday() for one in local], [one.hour for one in local]]
    mood = rng.lognormal(0, 0.08, size=len(edges))[np.searchsorted(edges, hours, side="right") - 1]

    def instants(a_week: float, share: np.ndarray) -> list[int]:
        count = rng.poisson(a_week * share)
        return sorted((np.repeat(hours, count) + rng.integers(0, HOUR_MS, size=count.sum())).tolist())

    for mode, habit in world.HABITS.items():
        for t in instants(habit.calls_a_week, shares * mood):
            callers.at(t, callers.call, mode)
        for t in instants(habit.streams_a_week, shares * mood):
            callers.at(t, callers.stream, mode)
    even = np.full(len(hours), 1 / 168)
    for t in instants(34, shares):
        callers.at(t, callers.page, f"19990{rng.integers(10, 60)}", float(rng.choice(PAGE_SECONDS)))
    for t in instants(45, even):
        callers.at(t, callers.noise, int(rng.uniform(100, 900)), round(float(rng.uniform(-119, -108)), 1), False)


def _plant(rng: np.random.Generator, callers: Callers, planned: dict[str, Incident], zone: ZoneInfo) -> None:
    """Make the incidents due that are things that happen (the others are states that the repeater asks about)."""
    stuck = planned.get("stuck-transmitter")
    if stuck:
        local = next(one for one in world.TARGETS if one.name == "BFR A")
        person = callers.near["dstar"].items[0]
        callers.at(stuck.start, callers.stick, local, person, stuck.end)
    storm = planned.get("interference")
    if storm:
        for hour in range(storm.start, storm.end, HOUR_MS):
            if from_us(hour * MS, zone).hour not in (22, 23, 0, 1, 2, 3, 4):
                continue
            for at in rng.integers(hour, hour + HOUR_MS, size=rng.poisson(30)).tolist():
                ms, rssi = int(rng.uniform(150, 800)), round(float(rng.uniform(-112, -98)), 1)
                callers.at(at, callers.noise, ms, rssi, bool(rng.random() < 0.5))


def _host_log(repeater: Repeater, callers: Callers, planned: dict[str, Incident], edges: list[int]) -> pl.DataFrame:
    """What the main host writes: overs, refusals, carriers, its own starts and stops, and that it is alive."""
    rows: list[dict[str, Any]] = []
    for over in repeater.overs:
        same = {"mode": over.mode, "slot": over.slot, "side": over.side, "station": over.text, "target": over.target}
        rows.append({"t": over.start, "event": "over-start", **same})
        if over.end is not None:
            levels = {"ber_pct": over.ber_pct, "loss_pct": over.loss_pct, "rssi_dbm": over.rssi_dbm}
            seconds = (over.end - over.start) / 1000
            rows.append({"t": over.end, "event": "over-end", **same, "seconds": seconds, "cause": over.cause, **levels})
    for one in repeater.refusals:
        said = {"mode": one.mode, "side": one.side, "station": one.text, "reason": one.reason}
        rows.append({"t": one.t, "event": "refused", **said})
    for up, after, rssi in callers.carriers:
        rows.append({"t": up, "event": "carrier-up", "rssi_dbm": rssi})
        rows.append({"t": after, "event": "carrier-down"})
    restart = planned.get("planned-restart")
    if restart:
        rows.append({"t": restart.start, "event": "host-stop"})
    rows += [{"t": end + 1, "event": "host-start"} for _, end in repeater.down.spans]
    rows += _alive(edges, ALIVE_MS, 7_120, repeater.down)
    return _frame(rows)


def _links_log(links: dict[str, Outages], cut: Incident | None, edges: list[int]) -> pl.DataFrame:
    """What the box between the host and its networks writes: links made and lost."""
    rows, starts = _other_box(cut, edges, 41_500)
    for place, (network, mode, target) in enumerate(world.LINKS):
        link = {"mode": mode, "network": network, "target": target}
        rows += [{"t": at + 9_000 + 700 * place, "event": "link-up", **link} for at in starts]
        for away, back in links[network].spans:
            rows += [{"t": away, "event": "link-down", **link}, {"t": back, "event": "link-up", **link}]
    return _frame(rows)


def _pager_log(callers: Callers, cut: Incident | None, edges: list[int]) -> pl.DataFrame:
    """What the pager's box writes: the pages that it sent."""
    rows, _ = _other_box(cut, edges, 73_250)
    for t, pager, seconds in callers.pages:
        rows.append({"t": t, "event": "page", "mode": "pocsag", "target": pager, "seconds": seconds})
    return _frame(rows)


def _other_box(cut: Incident | None, edges: list[int], offset: int) -> tuple[list[dict[str, Any]], list[int]]:
    """Starts and signs of life of a box that only a power cut silences, and when it had power again."""
    down = Outages([(cut.start, cut.end)] if cut else [])
    starts = [edges[0], *(end for _, end in down.spans)]
    rows: list[dict[str, Any]] = [{"t": at + 5_900, "event": "host-start"} for at in starts]
    return rows + _alive(edges, OTHERS_ALIVE_MS, offset, down), starts


def _alive(edges: list[int], every: int, offset: int, down: Outages) -> list[dict[str, Any]]:
    return [{"t": t, "event": "alive"} for t in range(edges[0] + offset, edges[-1], every) if not down.at(t)]


def _frame(rows: list[dict[str, Any]]) -> pl.DataFrame:
    """Rows in order of time; at one instant ends come before starts, as a machine lets go before it takes."""
    rows.sort(key=lambda row: (row["t"], row["event"] != "over-end"))
    whole = [{**row, "line": line, "t": row["t"] * MS} for line, row in enumerate(rows)]
    return pl.DataFrame(whole, schema=EVENT_SCHEMA)


def _book(ledger: Ledger, repeater: Repeater, pages: list[tuple[int, int]]) -> None:
    """All that was on the air, and all that was refused, in order; what starts at an instant comes before its refusals,
    as it holds from there on.
    """
    overs = [(over.start, 0, partial(ledger.over, over)) for over in repeater.overs]
    sent = [(start, 1, partial(ledger.page, "pocsag", start, end)) for start, end in pages]
    refused = [(one.t, 2, partial(ledger.refusal, one)) for one in repeater.refusals]
    for _, _, book in sorted([*overs, *sent, *refused], key=lambda one: one[:2]):
        book()
    ledger.close()


def _truth(
    seed: int,
    repeater: Repeater,
    callers: Callers,
    planned: dict[str, Incident],
    edges: list[int],
    zone: ZoneInfo,
    logs: dict[str, pl.DataFrame],
) -> dict[str, Any]:
    ledger = Ledger(edges)
    pages = [(t, t + round(seconds * 1000)) for t, _, seconds in callers.pages]
    _book(ledger, repeater, pages)
    transmissions = [*((over.start, over.end) for over in repeater.overs if over.end is not None), *pages]
    blind = unseen(logs.values(), transmissions, world.QUIET_LOG_S, edges[0], edges[-1])

    def window(first: int, after: int, weeks: slice) -> dict[str, Any]:
        lost = sum(max(0, min(end, after) - max(start, first)) for start, end in blind)
        span: dict[str, Any] = {"from": iso(first * MS, zone), "to": iso(after * MS, zone), "zone": str(zone)}
        span |= {"seconds": (after - first) / 1000, "blind_s": lost / 1000}
        return {"window": span, **ledger.figures(ledger.weeks[weeks])}

    began = {"stuck-transmitter": next((o.start for o in repeater.overs if o.end and o.end - o.start > HOUR_MS), None)}
    return {
        "repeater": world.CALLSIGN,
        "seed": seed,
        "weeks": [window(a, b, slice(i, i + 1)) for i, (a, b) in enumerate(pairwise(edges))],
        "whole": window(edges[0], edges[-1], slice(None)),
        "waited_and_came_up": callers.waited,
        "incidents": [
            {
                "kind": one.kind,
                "from": iso((began.get(one.kind) or one.start) * MS, zone),
                "to": iso(one.end * MS, zone),
                "what": one.what,
            }
            for one in planned.values()
        ],
        "events": {
            box: dict(sorted(log["event"].cast(pl.String).value_counts().iter_rows())) for box, log in logs.items()
        },
    }
