"""Each link over a window: whether it was up, what it brought, what it lost (docs/definitions.md, Links). Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Ints, Window, in_window
from server.analytics.figure_types import Json, Stretch
from server.analytics.linking import Change, Key, fits
from shared import spans as sp
from shared.zones import SECOND, iso

FLAP = 60 * SECOND  # an outage shorter than this is a flap
HIGH_LOSS_PCT = 5.0
NEVER = np.iinfo(np.int64).max

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class LinkOvers:
    """n finished overs that came over a link, sorted by start; all arrays of shape (n,)."""

    start: Ints  #: microseconds
    end: Ints
    mode: Sequence[str | None]
    target: Sequence[str | None]
    loss_pct: npt.NDArray[np.float64]  #: nan where it is not logged


@dataclass(frozen=True)
class Outage:
    """A stretch of known time in which a link was down, microseconds."""

    start_us: int
    end_us: int | None  #: None where no link-up ends it in the window

    def as_json(self, zone: ZoneInfo) -> Json:
        return {"from": iso(self.start_us, zone), "to": None if self.end_us is None else iso(self.end_us, zone)}


@dataclass(frozen=True)
class LinkFigures:
    """One link over a window; all but `known_s` are None where nothing is known of it."""

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

    def as_json(self, zone: ZoneInfo) -> Json:
        """An item of what `airtally links --json` prints."""
        network, mode, target = self.key
        return {
            "network": network, "mode": mode, "target": target, "known_s": self.known_s,
            "availability": self.availability, "down_s": self.down_s,
            "outages": None if self.outages is None else [one.as_json(zone) for one in self.outages],
            "flaps": self.flaps, "overs": self.overs, "airtime_s": self.airtime_s, "loss_pct": self.loss_pct,
            "loss_high_share": self.loss_high_share,
        }  # fmt: skip


@dataclass(frozen=True)
class Links:
    """All links of a window, and what could not be told apart."""

    window: Stretch
    links: tuple[LinkFigures, ...]
    overs: int  #: that came over any link and began in the window
    not_told_apart: int  #: of these, those that fit no link that was up, or more than one

    def as_json(self) -> list[Json]:
        """Just what `airtally links --json` prints."""
        return [one.as_json(self.window.zone) for one in self.links]


def stretches(changes: Sequence[Change], end: int) -> list[tuple[int, int, bool]]:
    """From a link's changes in order of time: [start, end) and whether it was up; neighbours differ. The last one
    lasts until `end`.
    """
    turns = [one for place, one in enumerate(changes) if not place or one[1] != changes[place - 1][1]]
    ends = [*(instant for instant, _ in turns[1:]), max(end, turns[-1][0])] if turns else []
    return [(since, to, up) for (since, up), to in zip(turns, ends, strict=True)]


def spent(changes: Sequence[Change], end: int, known: sp.Spans, *, up: bool) -> sp.Spans:
    """The part of known time that a link was up, or down; canonical."""
    mine = [(since, to) for since, to, state in stretches(changes, end) if state is up]
    return sp.intersection(sp.union(sp.spans([a for a, _ in mine], [b for _, b in mine])), known)


def links(
    changes: Mapping[Key, Sequence[Change]], overs: LinkOvers, window: Stretch, blind: sp.Spans, until: int
) -> Links:
    """Each link of [from, to), by name. `changes` are in order of time and reach up to the window's end; `until` is
    the last line of any log. `overs` are those that reach into the window.
    """
    start, end = window.start_us, window.end_us
    known = sp.difference(sp.spans([start], [min(end, until)]), blind)
    keys = sorted(changes, key=lambda key: tuple(part or "" for part in key))
    through = carried(keys, changes, overs)
    began = in_window(overs.start, (start, end))
    return Links(
        window,
        tuple(
            _link(key, changes[key], known, (start, end), overs, mine)
            for key, mine in zip(keys, through, strict=True)
        ),
        int(began.sum()),
        int((began & ~through.any(axis=0)).sum()),
    )  # fmt: skip


def carried(keys: Sequence[Key], changes: Mapping[Key, Sequence[Change]], overs: LinkOvers) -> Bools:
    """Which link each over came through, shape (links, overs): the one that was up when it began and fits its mode and
    target as far as both are given; no link where none does, or more than one. A link that names less of another is
    that other one.
    """
    fitting = np.zeros((len(keys), len(overs.start)), dtype=np.bool_)
    pairs = sorted(set(zip(overs.mode, overs.target, strict=True)), key=str)
    number = {pair: place for place, pair in enumerate(pairs)}
    of = np.array([number[pair] for pair in zip(overs.mode, overs.target, strict=True)], dtype=np.int64)
    for place, key in enumerate(keys):
        may = np.array([_may_be(key, *pair) for pair in pairs], dtype=np.bool_)
        was_up = [(since, to) for since, to, up in stretches(changes[key], NEVER) if up]
        up = sp.union(sp.spans([a for a, _ in was_up], [b for _, b in was_up]))
        fitting[place] = may[of] & sp.covers(up, overs.start) if len(of) else False
    told = fitting.copy()
    for place, key in enumerate(keys):
        for other, fuller in enumerate(keys):
            if key != fuller and fits(key, fuller):
                told[place] &= ~fitting[other]
    return np.asarray(told & (told.sum(axis=0) == 1))


def _may_be(key: Key, mode: str | None, target: str | None) -> bool:
    """Whether an over may have come through a link, by what both name."""
    _, of_mode, of_target = key
    return (None in (mode, of_mode) or mode == of_mode) and (None in (target, of_target) or target == of_target)


def _link(
    key: Key, changes: Sequence[Change], known: sp.Spans, window: Window, overs: LinkOvers, mine: Bools
) -> LinkFigures:
    up, down = (sp.length(spent(changes, window[1], known, up=state)) for state in (True, False))
    if not up + down:
        return LinkFigures(key, 0.0)
    lost = [
        (since, to, to == window[1] and changes[-1][1] is False)
        for since, to, state in stretches(changes, window[1])
        if not state
    ]
    short = [not still and to - since < FLAP for since, to, still in lost]
    outages = [_outages(one, known) for one, flap in zip(lost, short, strict=True) if not flap]
    flaps = [
        one for one, flap in zip(lost, short, strict=True)
        if flap and one[0] >= window[0] and _outages(one, known)
    ]  # fmt: skip
    began = mine & in_window(overs.start, window)
    covered = sp.union(sp.clip(sp.spans(overs.start[mine], overs.end[mine]), *window))
    return LinkFigures(
        key,
        (up + down) / SECOND,
        up / (up + down),
        down / SECOND,
        tuple(piece for pieces in outages for piece in pieces),
        len(flaps),
        int(began.sum()),
        sp.length(covered) / SECOND,
        *_loss(overs.loss_pct[began], (overs.end - overs.start)[began]),
    )


def _outages(lost: tuple[int, int, bool], known: sp.Spans) -> list[Outage]:
    """The known pieces of a time down; the last one has no end where the link was not back by the window's."""
    since, to, still = lost
    pieces: list[Any] = sp.intersection(sp.spans([since], [to]), known).tolist()
    return [
        Outage(low, None if still and place == len(pieces) - 1 else high) for place, (low, high) in enumerate(pieces)
    ]


def _loss(loss_pct: npt.NDArray[np.float64], length: Ints) -> tuple[float | None, float | None]:
    """Mean loss over seconds, and the share of the seconds in overs above 5 %, of the overs that tell it."""
    told = ~np.isnan(loss_pct)
    seconds = length[told].astype(np.float64)
    if not seconds.sum():
        return None, None
    high = loss_pct[told] > HIGH_LOSS_PCT
    return float(np.average(loss_pct[told], weights=seconds)), float(seconds[high].sum() / seconds.sum())
