"""Each link over a window: whether it was up, what it brought, what it lost (docs/definitions.md, Links). Pure."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints, Window, in_window
from server.analytics.figure_types import Json, Stretch
from server.analytics.link_overs import Bools, LinkOvers, NotToldApart, carried, not_told_apart, stretches
from server.analytics.link_silence import Silences, silences
from server.analytics.linking import Change, Key
from shared import spans as sp
from shared.zones import SECOND, from_us, iso, midnight

FLAP = 60 * SECOND  # an outage shorter than this is a flap
HIGH_LOSS_PCT = 5.0


@dataclass(frozen=True)
class Outage:
    """From the first to the last known instant at which a link was down, microseconds. Blind time within does not end
    it.
    """

    start_us: int
    end_us: int
    known_us: int  #: the known time of it
    back: bool = True  #: False: no link-up ended it in the window

    @property
    def length_s(self) -> float:
        """Known seconds."""
        return self.known_us / SECOND

    def as_json(self, zone: ZoneInfo) -> Json:
        return {"from": iso(self.start_us, zone), "to": iso(self.end_us, zone) if self.back else None}


@dataclass(frozen=True)
class LinkWeek:
    """A link in one local week, Monday to Sunday, as far as the window has it; counts are of what began in it."""

    start_us: int
    end_us: int
    known_s: float
    availability: float | None = None
    down_s: float | None = None
    outages: int | None = None
    flaps: int | None = None
    overs: int | None = None
    loss_pct: float | None = None

    def as_json(self, zone: ZoneInfo) -> Json:
        return {
            "week": week_name(self.start_us, zone), "from": iso(self.start_us, zone), "to": iso(self.end_us, zone),
            "known_s": self.known_s, "availability": self.availability, "down_s": self.down_s, "outages": self.outages,
            "flaps": self.flaps, "overs": self.overs, "loss_pct": self.loss_pct,
        }  # fmt: skip


@dataclass(frozen=True)
class LinkFigures:
    """One link over a window; all but `known_s` are None where nothing is known of it. Of a link that was never seen up
    only its time down is known.
    """

    key: Key
    known_s: float
    availability: float | None = None
    down_s: float | None = None
    outages: tuple[Outage, ...] | None = None  #: without flaps
    flaps: int | None = None
    overs: int | None = None
    airtime_s: float | None = None
    loss_pct: float | None = None  #: mean over seconds; None where no over of it tells its loss
    loss_high_share: float | None = None  #: of those seconds, the share in overs above 5 %
    weeks: tuple[LinkWeek, ...] = ()
    quiet: Silences = field(default_factory=Silences)
    turned: Change | None = None  #: when it came up or went for the last time before the window's end, and which

    def as_json(self, zone: ZoneInfo) -> Json:
        """An item of what `airtally links --json` prints."""
        network, mode, target = self.key
        quiet = self.quiet.silences
        return {
            "network": network, "mode": mode, "target": target, "known_s": self.known_s,
            "availability": self.availability, "down_s": self.down_s,
            "outages": None if self.outages is None else [one.as_json(zone) for one in self.outages],
            "flaps": self.flaps, "overs": self.overs, "airtime_s": self.airtime_s, "loss_pct": self.loss_pct,
            "loss_high_share": self.loss_high_share, "weekly_gap_s": self.quiet.usual_gap_s,
            "silences": None if quiet is None else [one.as_json(zone) for one in quiet],
            "weeks": [one.as_json(zone) for one in self.weeks],
        }  # fmt: skip


@dataclass(frozen=True)
class Links:
    """All links of a window, and what could not be told apart."""

    window: Stretch
    links: tuple[LinkFigures, ...]
    overs: int  #: that came over any link and began in the window
    apart: tuple[NotToldApart, ...] = ()  #: of these, those that fit no link that was up, or more than one

    @property
    def not_told_apart(self) -> int:
        return sum(row.overs for row in self.apart)

    def as_json(self) -> list[Json]:
        """Just what `airtally links --json` prints."""
        return [one.as_json(self.window.zone) for one in self.links]


def week_name(us: int, zone: ZoneInfo) -> str:
    """The ISO 8601 week that holds an instant: 2026-W47."""
    year, week, _ = from_us(us, zone).isocalendar()
    return f"{year:04d}-W{week:02d}"


def local_weeks(start: int, end: int, zone: ZoneInfo) -> list[Window]:
    """The local weeks, Monday to Sunday, that [start, end) reaches into, clipped to it."""
    day = from_us(start, zone).date()
    edge, found = day - dt.timedelta(days=day.weekday()), []
    while midnight(edge, zone) < end:
        after = edge + dt.timedelta(days=7)
        found.append((max(start, midnight(edge, zone)), min(end, midnight(after, zone))))
        edge = after
    return found


def spent(changes: Sequence[Change], end: int, known: sp.Spans, *, up: bool) -> sp.Spans:
    """The part of known time that a link was up, or down; canonical."""
    mine = [(since, to) for since, to, state in stretches(changes, end) if state is up]
    return sp.intersection(sp.union(sp.spans([a for a, _ in mine], [b for _, b in mine])), known)


@dataclass(frozen=True)
class Heard:
    """What the log tells of links: `known` is seen time up to the last line of any log, over the window and what lies
    before it, as far as silences are judged by that.
    """

    known: sp.Spans
    overs: LinkOvers
    window: Stretch


def links(changes: Mapping[Key, Sequence[Change]], heard: Heard) -> Links:
    """Each link of the window, by name. `changes` are in order of time and reach up to the window's end."""
    keys = sorted(changes, key=lambda key: tuple(part or "" for part in key))
    found = carried(keys, changes, heard.overs)
    began = in_window(heard.overs.start, (heard.window.start_us, heard.window.end_us))
    return Links(
        heard.window,
        tuple(_link(key, changes[key], heard, mine) for key, mine in zip(keys, found.through, strict=True)),
        int(began.sum()),
        not_told_apart(found, heard.overs, began),
    )


def _link(key: Key, changes: Sequence[Change], heard: Heard, mine: Bools) -> LinkFigures:
    window, overs = (heard.window.start_us, heard.window.end_us), heard.overs
    up, down = (spent(changes, window[1], heard.known, up=state) for state in (True, False))
    up_here, down_here = sp.clip(up, *window), sp.clip(down, *window)
    known = sp.length(up_here) + sp.length(down_here)
    if not known:
        return LinkFigures(key, 0.0)
    outages, flaps = _losses(changes, sp.clip(heard.known, *window), window)
    begun = np.array([one.start_us for one in outages], dtype=np.int64), np.array(flaps, dtype=np.int64)
    told = _Told(up_here, down_here, *begun, overs, mine, any(up for _, up in changes))
    return LinkFigures(
        key,
        known / SECOND,
        told.availability(window),
        sp.length(down_here) / SECOND,
        tuple(outages),
        len(flaps),
        *told.traffic(window),
        *told.loss(window),
        weeks=tuple(told.week(week) for week in local_weeks(*window, heard.window.zone)),
        quiet=silences(up, overs.start[mine], overs.end[mine], window) if told.seen_up else Silences(),
        turned=[one for at, one in enumerate(changes) if not at or one[1] != changes[at - 1][1]][-1],
    )


@dataclass(frozen=True)
class _Told:
    """One link in the window, of which parts are asked."""

    up: sp.Spans  #: known time
    down: sp.Spans
    outages: Ints  #: instants at which they begin
    flaps: Ints
    overs: LinkOvers
    mine: Bools
    seen_up: bool  #: whether the log ever told that it came up

    def availability(self, part: Window) -> float | None:
        up, down = (sp.length(sp.clip(state, *part)) for state in (self.up, self.down))
        return up / (up + down) if self.seen_up and up + down else None

    def traffic(self, part: Window) -> tuple[int | None, float | None]:
        """Overs that begin in a part, and their airtime, seconds."""
        if not self.seen_up:
            return None, None
        covered = sp.union(sp.clip(sp.spans(self.overs.start[self.mine], self.overs.end[self.mine]), *part))
        return int((self.mine & in_window(self.overs.start, part)).sum()), sp.length(covered) / SECOND

    def loss(self, part: Window) -> tuple[float | None, float | None]:
        began = self.mine & in_window(self.overs.start, part)
        return _loss(self.overs.loss_pct[began], (self.overs.end - self.overs.start)[began])

    def week(self, part: Window) -> LinkWeek:
        up, down = (sp.length(sp.clip(state, *part)) / SECOND for state in (self.up, self.down))
        if not up + down:
            return LinkWeek(*part, 0.0)
        outages, flaps = (int(in_window(begun, part).sum()) for begun in (self.outages, self.flaps))
        return LinkWeek(
            *part, up + down, self.availability(part), down, outages, flaps, self.traffic(part)[0], self.loss(part)[0]
        )


def _losses(changes: Sequence[Change], known: sp.Spans, window: Window) -> tuple[list[Outage], list[int]]:
    """The outages in known time of the window, and the instants at which flaps begin."""
    outages: list[Outage] = []
    flaps: list[int] = []
    for since, to, up in stretches(changes, window[1]):
        down = sp.NONE if up else sp.intersection(sp.spans([since], [to]), known)
        if not len(down):
            continue
        back = to != window[1] or changes[-1][1]
        if back and to - since < FLAP:
            flaps += [since] if since >= window[0] else []
        else:
            outages.append(Outage(int(down[0, 0]), int(down[-1, 1]), sp.length(down), back))
    return outages, flaps


def _loss(loss_pct: npt.NDArray[np.float64], length: Ints) -> tuple[float | None, float | None]:
    """Mean loss over seconds, and the share of the seconds in overs above 5 %, of the overs that tell it."""
    told = ~np.isnan(loss_pct)
    seconds = length[told].astype(np.float64)
    if not seconds.sum():
        return None, None
    high = loss_pct[told] > HIGH_LOSS_PCT
    return float(np.average(loss_pct[told], weights=seconds)), float(seconds[high].sum() / seconds.sum())
