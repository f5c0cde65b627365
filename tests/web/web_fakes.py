"""A source with the figures of an invented week at Brackenfell, an empty one, one with hostile names, and one that
can't be read.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import polars as pl

from server.analytics.activity import Activity, Overs, Refusals, Unfinished
from server.analytics.airtime import Fullest
from server.analytics.compare import CHANNEL
from server.analytics.explored import Explored, Loose, explored
from server.analytics.exposure import Exposure, Radiator, exposure
from server.analytics.figure_types import (
    Channel,
    Duty,
    Figures,
    LineCounts,
    ShutOutPair,
    Slots,
    Stretch,
    Talk,
)
from server.analytics.linking import Change, Key
from server.analytics.links import Links as LinksFound
from server.analytics.moment import AROUND, moment
from server.analytics.moment_types import Moment
from server.analytics.over_rows import over_frame
from server.analytics.overruns import Overrun
from server.analytics.reception import Reception
from server.analytics.traffic import BusyHour
from server.intake.overview import FileRead, LogRead
from server.report.month import Month
from server.report.nameless import nameless
from server.service import Fault, Health
from server.store.notes import KINDS, Note
from server.store.tallies import GREATEST, SUMS
from server.store.timers import TimerChange, plain_note
from server.telling.moment_sentences import Logged
from server.telling.targets import TargetNames
from server.web.frame import Frame
from server.web.shell import Links
from server.web.source import Sums, WeekBefore
from shared import spans as sp
from shared.errors import StoreError
from shared.timers import Timers
from shared.zones import SECOND, instant, month_window, week_window
from tests.figures_like import mode
from tests.web.desk_fakes import FakeDesk, empty_desk, hostile_desk
from tests.web.link_fakes import links_like
from tests.web.month_fakes import month_like
from tests.web.reception_fakes import nothing_heard, reception_like

ZONE = ZoneInfo("Europe/London")
FIRST = instant("2026-08-31T00:04", ZONE)
LAST = instant("2026-11-24T21:40", ZONE)
NOW = instant("2026-11-24T21:41", ZONE)
WEEK = "2026-W47"
START, END = week_window(WEEK, ZONE)
TIMERS = Timers(180.0, (20.0,) * 9, (0.0,) * 9, 1.0)

EXAMPLES = (
    (START + 3_600 * SECOND, "2026-11-16T01:00:00Z fan 2 at 61 % of <script>alert(1)</script>"),
    (START + 7_200 * SECOND, '=cmd("calc")!A1'),
    (None, "nul \0 bell \x07 esc \x1b[31m red"),
    (None, "right to left \u202egnp.exe\u202c and \u200b\u2066isolates\u2069 and \u05e9\u05dc\u05d5\u05dd"),
    (None, "z" + "\u0301" * 300 + " " + "W" * 4000),
)


def at(text: str) -> tuple[int, int]:
    """`2026-11-18 19:31 19:37`, UTC."""
    day, start, end = text.split()
    return instant(f"{day}T{start}+00:00", ZONE), instant(f"{day}T{end}+00:00", ZONE)


def figures_of_a_week(start: int = START, end: int = END) -> Figures:
    """A busy week."""
    return Figures(
        repeater="QB0BFR",
        window=Stretch(start, end, ZONE, 0.0),
        channel=Channel(
            seen_s=(end - start) / SECOND,
            airtime_s=111_320.0,
            occupancy=0.1841,
            keyed_s=124_600.0,
            idle_hold_s=44_300.0,
            overs=6_971,
            pages=0,
            overruns=0,
            unfinished=4,
            unfinished_longest_s=720.0,
            stations=61,
        ),
        modes={
            "dstar": mode(38_420, 2_310, near_timeouts=3, shut_outs_caused=9, shut_outs_suffered=2),
            "dmr": mode(
                52_150,
                3_420,
                slots=Slots(21_000.0, 34_900.0, 3_750.0),
                erlang=0.0924,
                near_timeouts=1,
                shut_outs_suffered=9,
                shut_outs_caused=3,
            ),
            "c4fm": mode(18_600, 1_105, near_timeouts=1, shut_outs_suffered=3, shut_outs_caused=2, timeout_lockouts=0),
            "m17": mode(2_140, 122),
            "fm": mode(260, 14),
        },
        shut_outs=(
            ShutOutPair("dstar", "dmr", 9, 31.4),
            ShutOutPair("dmr", "c4fm", 3, 74.0),
            ShutOutPair(None, "dstar", 2, None),
        ),
        likely_waiters_estimated=6,
        busy_hour=BusyHour("19:15", 0.62, 7),
        duty=Duty(
            Fullest(0.994, at("2026-11-18 19:31 19:37")),
            Fullest(0.93, at("2026-11-18 19:20 19:50")),
            Fullest(0.81, at("2026-11-18 19:05 20:05")),
        ),
        talk=Talk(402, 1.4, 0.31, 4_820.0, 11),
        intake=LineCounts(48_210, 33_900, 14_289, 21, 2, 1),
    )


def silent(start: int, end: int) -> Figures:
    """The figures of a window that was seen, and in which nothing happened."""
    return Figures(
        repeater="QB0BFR",
        window=Stretch(start, end, ZONE, 0.0),
        channel=Channel((end - start) / SECOND, 0.0, 0.0, 0.0, 0.0, 0, 0, 0, 0, 0.0, 0),
        shut_outs=(),
        likely_waiters_estimated=0,
        busy_hour=BusyHour("00:00", 0.0, 7),
        duty=Duty(Fullest(0.0), Fullest(0.0), Fullest(0.0)),
        talk=Talk(0, None, None, 0.0, 0),
        intake=LineCounts(),
    )


def nothing(start: int, end: int) -> Figures:
    """The figures of a window of which nothing is known."""
    return Figures("QB0BFR", Stretch(start, end, ZONE, (end - start) / SECOND), Channel(0.0), LineCounts())


def weeks_like(usual: dict[str, float], n: int = 13, start: int = START) -> list[WeekBefore]:
    """Earlier weeks that scatter by a few percent around the usual airtimes, newest first."""
    weeks = []
    for k in range(n):
        scatter = 1 + 0.04 * ((k * 7) % 5 - 2)
        sums = {word: Sums(value * scatter) for word, value in usual.items()}
        sums[CHANNEL] = Sums(sum(usual.values()) * scatter, 11.0 + k % 4)
        weeks.append(WeekBefore(start - (k + 1) * 604_800 * SECOND, start - k * 604_800 * SECOND, 1.0, sums))
    return weeks


USUAL = {"dstar": 37_000.0, "dmr": 51_000.0, "c4fm": 12_400.0, "m17": 2_060.0, "fm": 250.0, "nxdn": 1_300.0}


def evenings(days: int) -> npt.NDArray[np.float64]:
    """Airtime that peaks in the evening, with a net on Wednesday."""
    hours = np.arange(24)
    shape = 900 * np.exp(-(((hours - 19.5) / 2.6) ** 2)) + 420 * np.exp(-(((hours - 8) / 1.6) ** 2)) + 12
    seconds = np.stack([shape * (1 + 0.25 * ((day * 3) % 4)) for day in range(days)])
    seconds[:, 1:5] = 0
    if days > 2:
        seconds[2, 19] = 2_910
    return seconds


def activity_of(start: int, end: int, targets: tuple[str, ...]) -> Activity:
    """Three modes that take turns: each quarter of an hour from 18:00 to 21:00 UTC a talk of six overs, now and then a
    refused call.
    """
    quarters = np.arange(start - start % (900 * SECOND), end, 900 * SECOND, dtype=np.int64)
    quarters = quarters[
        (quarters >= start) & (quarters // (3600 * SECOND) % 24 >= 18) & (quarters // (3600 * SECOND) % 24 < 21)
    ]
    nth = np.arange(len(quarters))
    begin = (quarters[:, None] + np.arange(6) * 22 * SECOND + nth[:, None] % 5 * SECOND).reshape(-1)
    of, turn = np.repeat(nth, 6), np.tile(np.arange(6), len(quarters))
    mode, n = np.where(of % 4 == 3, 2, of % 2), len(begin)
    tried = quarters[::3] + 128 * SECOND + nth[::3] % 30 * SECOND
    none, wanted = np.empty(0, dtype=np.int64), (mode[::18] + 1) % 3
    return Activity(
        Overs(
            begin,
            begin + (18 + turn) * SECOND,
            mode,
            np.where(mode == 1, 1 + of // 2 % 2, 0),
            np.where(turn == 1, of % 2, 0),
            of * 7 % 11 + turn % 2,
            of % 3,
            np.full(n, -1, dtype=np.int64),
            np.zeros(n, dtype=bool),
        ),
        Unfinished(none, none, none),
        Refusals(tried, wanted, np.zeros_like(tried), np.arange(len(tried)) % 9, np.zeros_like(tried)),
        stations=tuple(f"QA1A{letter}A" for letter in "ABCDEFGHIJKL"),
        targets=targets,
    )


@dataclass(frozen=True)
class FakeStation:
    callsign: str = "QB0BFR"
    name: str = "Brackenfell"
    zone: ZoneInfo = ZONE
    timers: Timers = TIMERS
    names: TargetNames = field(default_factory=TargetNames)


@dataclass
class FakeSource:
    """Brackenfell, with whatever a test wants otherwise. `asked` counts the weeks that were really computed."""

    week: Figures | None = None
    before: Sequence[WeekBefore] = field(default_factory=lambda: weeks_like(USUAL))
    longest: Overrun | None = None
    span: tuple[int, int] | None = (FIRST, LAST)
    logs: Sequence[LogRead] = field(default_factory=lambda: LOGS)
    place: FakeStation = FakeStation()
    instant: int = NOW
    state: str = "1"
    broken: bool = False
    asked: int = 0
    desk: FakeDesk = field(default_factory=FakeDesk)
    targets: tuple[str, ...] = ("99901", "BFR A", "9990123")
    changes: Sequence[TimerChange] = ()
    noted: Sequence[Note] = ()
    still: bool = False
    faults: tuple[Fault, ...] = ()
    radiator: Radiator = field(default_factory=lambda: Radiator(435.0, 25.0, 2.0, 8.15))
    told_links: dict[Key, list[Change]] | None = None
    heard: Callable[[Stretch], Reception] = lambda window: reception_like(window, "deaf", "noise")
    quiet_since: int | None = None  #: no over came over a link from then on

    def health(self) -> Health:
        return Health((Fault("store", "The store can't be read."),) if self.broken else self.faults)

    def version(self) -> str:
        if self.broken:
            raise StoreError("airtally.db is locked by another program.")
        return self.state

    def station(self) -> FakeStation:
        return self.place

    def frame(self) -> Frame:
        """What a view of it gets, on loopback without a password."""
        return Frame(Links("", {"style.css": "/s.css", "icon.svg": "/i.svg"}), self.place, signed_in=False)

    def figures(self, start_us: int, end_us: int) -> Figures:
        self.asked += 1
        if self.span is None or end_us <= self.span[0] - 604_800 * SECOND:
            return nothing(start_us, end_us)
        if self.week is not None:
            return self.week
        return figures_of_a_week(start_us, end_us)

    def exposure(self, start_us: int, end_us: int) -> Exposure:
        found = self.figures(start_us, end_us)
        return exposure(found.window, found.duty, self.radiator)

    def reception(self, start_us: int, end_us: int) -> Reception:
        return self.heard(Stretch(start_us, end_us, self.place.zone, 0.0))

    def moment(self, at_us: int, wanted: str | None) -> Moment:
        logged = sp.NONE if self.span is None else sp.spans(self.span[:1], self.span[1:])
        unlogged = sp.complement(logged, 0, at_us + 2 * AROUND)
        seen = replace(self.activity(at_us - AROUND, at_us + AROUND), unlogged=unlogged)
        links: dict[Key, list[Change]] = {("moor\x1b[31m", "dmr", self.targets[0]): [(at_us - AROUND // 2, False)]}
        raised = (*self.desk.kept, *self.desk.replayed)
        return moment(seen, at_us, wanted, self.place.timers, self.place.zone, links, raised)

    def logged(self) -> Logged:
        return Logged(self.span, self.instant)

    def explored(self, spans: Sequence[tuple[int, int]]) -> Explored:
        if self.span is None:
            return explored(spans, [], (*SUMS, *GREATEST), NO_LOOSE)
        rows = []
        for place, (start, end) in enumerate(spans):
            share = (end - start) // 10
            for word, part in (("", 6), ("c4fm", 1), ("dmr", 3), ("dstar", 2)):
                of = dict.fromkeys(SUMS, part * (1 + place % 3))
                of |= {"airtime_us": share * part // 12, "idle_hold_us": share * part // 40, "unfinished": 0}
                of |= {"held_us": share * part // 10}
                of |= {"keyed_us": share // 2, "seen_us": end - start} if not word else {"keyed_us": 0, "seen_us": 0}
                of |= {name: SECOND * (90 + place) if not word else 0 for name in GREATEST}
                rows.append((place, word, tuple(of[name] for name in (*SUMS, *GREATEST))))
        return explored(spans, rows, (*SUMS, *GREATEST), NO_LOOSE)

    def hour_of_week(self, start_us: int, end_us: int, column: str) -> npt.NDArray[np.float64]:
        return np.full((7, 24), np.nan) if self.span is None else evenings(7) * SECOND

    def nameless_overs(self, start_us: int, end_us: int) -> pl.DataFrame:
        return nameless(over_frame([], self.place.zone), self.place.callsign)

    def lines_read(self) -> dict[str, int]:
        return {kind: sum(getattr(log, kind) for log in self.logs) for kind in ("understood", "ignored", "unread")}

    def weeks_before(self, start_us: int, n: int) -> Sequence[WeekBefore]:
        return self.before[:n]

    def day_hour_map(self, start_us: int, end_us: int) -> npt.NDArray[np.float64]:
        days = -(-(end_us - start_us) // (86_400 * SECOND + 1))
        return np.full((days, 24), np.nan) if self.span is None else evenings(days)

    def month(self, name: str) -> Month:
        window = month_window(name, self.place.zone)
        hours = self.day_hour_map(*window)
        return month_like(
            name,
            self.figures(*window),
            hours,
            self.place.zone,
            self.place.timers,
            self.place.callsign,
            self.place.name,
            self.span is not None,
        )

    def longest_over(self, start_us: int, end_us: int) -> Overrun | None:
        return self.longest

    def activity(self, start_us: int, end_us: int) -> Activity:
        return activity_of(start_us, end_us, self.targets) if self.span is not None else activity_of(0, 0, self.targets)

    def links(self, start_us: int, end_us: int) -> LinksFound:
        self.asked += 1
        return links_like(self.span, start_us, end_us, self.place.zone, self.told_links, self.quiet_since)

    def notes(self) -> Sequence[Note]:
        timers = [Note(one.id, one.at_us, "timers", one.note) for one in self.changes]
        return sorted([*self.noted, *timers], key=lambda one: one.at_us)

    def add_note(self, at_us: int, kind: str, text: str, for_committee: bool) -> None:
        if kind not in KINDS or not text.strip():
            raise ValueError("Say what was done.")
        self.noted = [*self.noted, Note(len(self.noted) + 1, at_us, kind, text, for_committee)]
        self.state += "+"

    def drop_note(self, number: int) -> bool:
        there = [one for one in self.noted if one.id != number]
        gone, self.noted = len(there) < len(self.noted), there
        return gone

    def timer_changes(self) -> Sequence[TimerChange]:
        return self.changes

    def add_timer_change(self, at_us: int, note: str) -> None:
        self.changes = [*self.changes, TimerChange(len(self.changes) + 1, at_us, plain_note(note))]
        self.state += "+"

    def alerts(self) -> FakeDesk:
        return self.desk

    def intake(self) -> Sequence[LogRead]:
        return self.logs

    def first_and_last(self) -> tuple[int, int] | None:
        return self.span

    def stands_still(self) -> bool:
        return self.still

    def now(self) -> int:
        return self.instant


LOGS = (
    LogRead(
        "/var/log/host/brackenfell.log", "brackenfell-a", 612_400, 431_020, 181_120, 260, 14, 9, FIRST, LAST,
        gaps=((START + 86_400 * SECOND, START + 93_000 * SECOND),),
        examples=EXAMPLES,
        files=(
            FileRead("/var/log/host/brackenfell.log", 31_020),
            FileRead("/var/log/host/brackenfell.log.3.gz", 40_100, "The compressed data ends early: the file was cut "
                "short."),
        ),
    ),
    LogRead("/var/log/host/links.log", "activity", 9_120, 9_120, 0, 0, 0, 0, FIRST, LAST),
    LogRead("/var/log/host/pages-*.log", "brackenfell-b", 0, 0, 0, 0, 0, 0, None, None),
)  # fmt: skip
NO_LOOSE = Loose(np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64), ())
HOSTILE = "<script>alert(1)</script>"


def empty_source() -> FakeSource:
    return FakeSource(span=None, logs=(), before=(), desk=empty_desk(), heard=nothing_heard)


def hostile_source() -> FakeSource:
    name = f"\u202e{HOSTILE}\0=cmd()"
    log = replace(LOGS[0], name=name, dialect=name, files=(FileRead(name, 3, name),))
    return FakeSource(
        logs=(log,), place=FakeStation(HOSTILE, '"><img src=x onerror=alert(1)>'), targets=(name, HOSTILE, name),
        changes=(TimerChange(1, START, name),), desk=hostile_desk(name),
        told_links={
            (name, "dmr", name): [(FIRST, True), (LAST - 3_600 * SECOND, False)],
            (HOSTILE, None, "\u05e9\u05dc"): [(FIRST, True)],
        },
    )  # fmt: skip
