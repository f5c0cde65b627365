"""Small worlds for replays: overs and refusals in half-second ticks, and the columns that they become."""

import datetime as dt
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

import numpy as np
from hypothesis import strategies as st

from server.analytics.activity import Activity, Overs, Refusals, Unfinished
from server.analytics.figure_types import Json
from server.analytics.replay_result import Replay
from server.telling.replay_texts import replay_texts
from shared.events import MODES, REASONS, SIDES
from shared.timers import Timers
from shared.zones import to_us

TICK = 500_000  # microseconds
ZONE = ZoneInfo("Europe/London")
BASE = to_us(dt.datetime(2026, 11, 16, tzinfo=dt.UTC))
STATIONS = ("QA1AAA", "QB2BBB", "QC3CCC")
TARGETS = ("99901", "99902")


@dataclass(frozen=True)
class Over:
    """One over; times in ticks after BASE."""

    start: int
    end: int
    mode: str | None = "dmr"
    slot: int = 0
    side: str | None = "air"
    station: str | None = None
    target: str | None = None


@dataclass(frozen=True)
class Refused:
    """One refusal; time in ticks."""

    t: int
    mode: str | None = "fm"
    side: str | None = "air"
    station: str | None = None
    reason: str | None = "other-mode"


@dataclass(frozen=True)
class World:
    """Traffic, the hold in force (seconds by mode, or `default`) and the time-out."""

    overs: list[Over] = field(default_factory=list)
    refusals: list[Refused] = field(default_factory=list)
    hold: dict[str, float] = field(default_factory=lambda: {"default": 20.0})
    timeout: float = 180.0
    window: tuple[int, int] = (0, 400)

    @property
    def window_us(self) -> tuple[int, int]:
        return BASE + self.window[0] * TICK, BASE + self.window[1] * TICK

    def timers(self) -> Timers:
        rest = self.hold["default"]
        return Timers(self.timeout, (*(self.hold.get(mode, rest) for mode in MODES), rest), (0.0,) * 9, 1.0)

    def activity(self) -> Activity:
        overs = sorted(self.overs, key=lambda over: over.start)
        tried = sorted(self.refusals, key=lambda refused: refused.t)
        ints = lambda values: np.array(list(values), dtype=np.int64)  # noqa: E731
        code = lambda words, word: -1 if word is None else words.index(word)  # noqa: E731
        none = np.empty(0, dtype=np.int64)
        return Activity(
            Overs(
                ints(BASE + over.start * TICK for over in overs),
                ints(BASE + over.end * TICK for over in overs),
                ints(code(MODES, over.mode) for over in overs),
                ints(over.slot for over in overs),
                ints(code(SIDES, over.side) for over in overs),
                ints(code(STATIONS, over.station) for over in overs),
                ints(code(TARGETS, over.target) for over in overs),
                ints(-1 for _ in overs),
                np.zeros(len(overs), dtype=bool),
            ),
            Unfinished(none, none, none),
            Refusals(
                ints(BASE + one.t * TICK for one in tried),
                ints(code(MODES, one.mode) for one in tried),
                ints(code(SIDES, one.side) for one in tried),
                ints(code(STATIONS, one.station) for one in tried),
                ints(code(REASONS, one.reason) for one in tried),
            ),
            stations=STATIONS,
            targets=TARGETS,
        )


@st.composite
def an_over(draw: st.DrawFn) -> Over:
    start = draw(st.integers(-60, 420))
    mode, slot = draw(st.sampled_from([("dstar", 0), ("fm", 0), ("dmr", 1), ("dmr", 2), ("dmr", 1), (None, 0)]))
    length = draw(st.one_of(st.integers(0, 10), st.integers(0, 60)))
    sides, stations = st.sampled_from(["air", "air", "link", None]), st.sampled_from([*STATIONS, *STATIONS, None])
    return Over(
        start, start + length, mode, slot, draw(sides), draw(stations), draw(st.sampled_from(["99901", "99901", None]))
    )


@st.composite
def a_refusal(draw: st.DrawFn) -> Refused:
    return Refused(
        draw(st.integers(-40, 420)),
        draw(st.sampled_from(["dstar", "dmr", "fm", "c4fm", None])),
        draw(st.sampled_from(["air", "link", None])),
        draw(st.sampled_from([*STATIONS[:2], None])),
        draw(st.sampled_from([*REASONS, None, None, "other-mode", "other-mode"])),
    )


holds = st.fixed_dictionaries(
    {"default": st.integers(0, 60).map(lambda n: n / 2)},
    optional={"dmr": st.integers(0, 60).map(lambda n: n / 2), "fm": st.integers(0, 20).map(float)},
)


@st.composite
def worlds(draw: st.DrawFn) -> World:
    """Traffic that is thick enough for modes to meet, around a window that cuts through it."""
    begin = draw(st.integers(-50, 100))
    overs, refusals = draw(st.lists(an_over(), max_size=18)), draw(st.lists(a_refusal(), max_size=12))
    window = (begin, begin + draw(st.integers(1, 400)))
    return World(overs, refusals, draw(holds), float(draw(st.integers(2, 30))), window)


def json_of(found: Replay) -> Json:
    """What `airtally replay --json` prints of it."""
    return found.as_json(replay_texts(found))
