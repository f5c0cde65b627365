"""Small worlds for the tests of figures: plain overs and refusals in half-second ticks, and the columns that they
become.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

import numpy as np
from hypothesis import strategies as st

from server.analytics.activity import Activity, Overs, Pages, Refusals, Unfinished
from shared import spans as sp
from shared.events import CAUSES, MODES, REASONS, SIDES
from shared.timers import Timers
from shared.zones import to_us

TICK = 500_000  # microseconds
LONDON = ZoneInfo("Europe/London")
STATIONS = ("QA1AAA", "QB2BBB", "QC3CCC")
TARGETS = ("99901", "99902", "QB0BFR A")


@dataclass
class Over:
    """One over; times in ticks."""

    start: int
    end: int
    mode: str | None = "dmr"
    slot: int = 0
    side: str | None = "air"
    station: str | None = None
    target: str | None = None
    cause: str | None = None


@dataclass
class Refused:
    """One refusal; time in ticks."""

    t: int
    mode: str | None = "dmr"
    side: str | None = "air"
    station: str | None = None
    reason: str | None = None


@dataclass
class Lost:
    """An over whose end never came; `until` None: nothing more on its key."""

    start: int
    until: int | None = None
    mode: str | None = "dmr"


@dataclass
class Paged:
    """A page; times in ticks, `end` None: its length is not known, but for `likely`, which is estimated."""

    start: int
    end: int | None
    mode: str | None = "pocsag"
    slot: int = 0
    likely: int | None = None


@dataclass
class Rules:
    """Timers in ticks (`wide` as in Timers)."""

    timeout: int = 360
    hold: dict[str, int] = field(default_factory=lambda: {"default": 40})
    tail: dict[str, int] = field(default_factory=lambda: {"default": 0})
    courtesy: int = 2
    grace: int = 20
    wide: frozenset[tuple[str | None, str]] = frozenset()

    def of(self, timer: dict[str, int], mode: str | None) -> int:
        """A timer of one mode."""
        return timer.get(mode or "default", timer["default"])

    def timers(self) -> Timers:
        """The same for the code under test."""
        hold, tail = (tuple(self.of(timer, mode) / 2 for mode in (*MODES, None)) for timer in (self.hold, self.tail))
        return Timers(self.timeout / 2, hold, tail, self.courtesy / 2, self.wide, self.grace / 2)


@dataclass
class World:
    """All that happened, in ticks after `base`."""

    overs: list[Over] = field(default_factory=list)
    refusals: list[Refused] = field(default_factory=list)
    lost: list[Lost] = field(default_factory=list)
    blind: list[tuple[int, int]] = field(default_factory=list)
    rules: Rules = field(default_factory=Rules)
    window: tuple[int, int] = (0, 240)
    base: dt.datetime = dt.datetime(2026, 11, 16, tzinfo=dt.UTC)
    pages: list[Paged] = field(default_factory=list)

    def us(self, tick: int) -> int:
        """The instant of a tick."""
        return to_us(self.base) + tick * TICK

    @property
    def window_us(self) -> tuple[int, int]:
        """The window, microseconds."""
        return self.us(self.window[0]), self.us(self.window[1])

    def activity(self) -> Activity:
        """The columns."""
        overs = sorted(self.overs, key=lambda over: over.start)
        refusals = sorted(self.refusals, key=lambda refused: refused.t)
        instants = lambda ticks: np.array([self.us(tick) for tick in ticks], dtype=np.int64)  # noqa: E731
        never = np.iinfo(np.int64).max
        blind = [sp.spans([self.us(start)], [self.us(end)]) for start, end in self.blind]
        return Activity(
            Overs(
                instants(o.start for o in overs), instants(o.end for o in overs),
                _codes(MODES, [o.mode for o in overs]), np.array([o.slot for o in overs], dtype=np.int64),
                _codes(SIDES, [o.side for o in overs]), _codes(STATIONS, [o.station for o in overs]),
                _codes(TARGETS, [o.target for o in overs]), _codes(CAUSES, [o.cause for o in overs]),
                np.zeros(len(overs), dtype=bool),
            ),
            Unfinished(
                instants(lost.start for lost in self.lost),
                np.array([never if lost.until is None else self.us(lost.until) for lost in self.lost], dtype=np.int64),
                _codes(MODES, [lost.mode for lost in self.lost]),
            ),
            Refusals(
                instants(r.t for r in refusals), _codes(MODES, [r.mode for r in refusals]),
                _codes(SIDES, [r.side for r in refusals]), _codes(STATIONS, [r.station for r in refusals]),
                _codes(REASONS, [r.reason for r in refusals]),
            ),
            sp.union(*blind), STATIONS, TARGETS, self._paged(),
        )  # fmt: skip

    def _paged(self) -> Pages:
        pages = sorted(self.pages, key=lambda page: page.start)
        starts = np.array([self.us(page.start) for page in pages], dtype=np.int64)
        ends = np.array(
            [self.us(page.start) - 1 if page.end is None else self.us(page.end) for page in pages], dtype=np.int64
        )
        return Pages(
            starts,
            ends,
            _codes(MODES, [page.mode for page in pages]),
            np.array([page.slot for page in pages], dtype=np.int64),
            np.array([-1 if page.likely is None else page.likely * TICK for page in pages], dtype=np.int64),
        )


def _codes(words: Sequence[str], values: Sequence[str | None]) -> np.ndarray:
    return np.array([-1 if value is None else words.index(value) for value in values], dtype=np.int64)


def maybe(*values: object) -> st.SearchStrategy:
    """One of the values, or not known."""
    return st.sampled_from([*values, *values, None])


#: A mode with its slot: two with none, one with two slots and now and then an unknown slot, and overs without a mode.
STREAMS = st.sampled_from([("dstar", 0), ("fm", 0), ("dmr", 1), ("dmr", 2), ("dmr", 1), ("dmr", 0), (None, 0)])


@st.composite
def an_over(draw: st.DrawFn) -> Over:
    """Starts where others start or end often enough: ticks are few."""
    start = draw(st.integers(-100, 300))
    mode, slot = draw(STREAMS)
    return Over(
        start, start + draw(st.one_of(st.integers(0, 8), st.integers(0, 60), st.integers(60, 400))), mode, slot,
        draw(maybe("air", "air", "link")), draw(maybe(*STATIONS)), draw(maybe(*TARGETS[:2])), draw(maybe(*CAUSES)),
    )  # fmt: skip


@st.composite
def a_refusal(draw: st.DrawFn) -> Refused:
    """Of few callers, so that attempts join."""
    return Refused(
        draw(st.integers(-60, 300)), draw(maybe("dstar", "dmr")), draw(maybe("air")), draw(maybe(*STATIONS[:2])),
        draw(st.sampled_from([*REASONS, None, None, "other-mode"])),
    )  # fmt: skip


@st.composite
def worlds(draw: st.DrawFn) -> World:
    """Random traffic around a window that cuts through it, on a plain day and over both clock changes in
    Europe/London.
    """
    begin = draw(st.integers(-50, 200))

    def timer(most: int) -> st.SearchStrategy[dict[str, int]]:
        return st.fixed_dictionaries({"default": st.integers(0, most)}, optional={"dmr": st.integers(0, most)})

    spans = st.tuples(st.integers(-80, 300), st.integers(0, 80)).map(lambda pair: (pair[0], pair[0] + pair[1]))
    length = st.none() | st.integers(0, 60)
    pages = st.builds(
        lambda start, length, mode, likely: Paged(start, None if length is None else start + length, mode, 0, likely),
        st.integers(-60, 300), length, maybe("pocsag", "fm"), length,
    )  # fmt: skip
    losses = st.builds(Lost, st.integers(-60, 300), st.none() | st.integers(300, 500), maybe("fm", "p25"))
    return World(
        draw(st.lists(an_over(), max_size=14)),
        draw(st.lists(a_refusal(), max_size=8)),
        draw(st.lists(losses, max_size=2)),
        draw(st.lists(spans, max_size=3)),
        Rules(
            draw(st.integers(20, 60)),
            draw(timer(30)),
            draw(timer(6)),
            draw(st.integers(1, 6)),
            draw(st.integers(0, 40)),
            frozenset(draw(st.sets(st.sampled_from([(None, "99901"), ("dmr", "99902"), ("fm", "99901")])))),
        ),
        (begin, begin + draw(st.integers(0, 240))),
        draw(
            st.sampled_from(
                [
                    dt.datetime(2026, 11, 18, 20, 15, tzinfo=dt.UTC),
                    dt.datetime(2026, 3, 29, 0, 59, tzinfo=dt.UTC),
                    dt.datetime(2026, 10, 25, 0, 59, tzinfo=dt.UTC),
                ]
            )
        ),
        draw(st.lists(pages, max_size=3)),
    )
