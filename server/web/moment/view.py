"""The Moment page: what held the repeater then, in sentences, and the half hour around it."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.analytics.moment import AROUND
from server.analytics.moment_strip import HalfHour, half_hour
from server.analytics.moment_types import Moment
from server.telling import words
from server.telling.addresses import moment_path
from server.telling.caution import CAREFUL, CAUTION
from server.telling.modes import mode_name
from server.telling.moment_sentences import REASONS, SIDES, Logged, moment_sentences
from server.telling.moments import clock_seconds, day_words, instant_words, other_instant
from server.telling.outside import VisibleText, visible
from server.telling.parts import Label, Row, Table
from server.web.frame import Frame
from server.web.moment.charts import MomentStrip, lane_label, moment_strip
from server.web.shell import Choice, Link, Shell
from server.web.source import Source
from shared.events import MODE_LABELS
from shared.zones import SECOND, from_us, instant

LONGEST = 4000  # characters of a sentence, of which the log gives some
EARLIEST, LATEST = dt.date(1980, 1, 1), dt.date(9997, 1, 1)


@dataclass(frozen=True)
class Part:
    """A stretch of a sentence, which may hold text from outside; with `figure` the name of that figure."""

    pieces: tuple[VisibleText, ...]
    figure: str | None


@dataclass(frozen=True)
class Answer:
    """What is known of a moment."""

    told: tuple[tuple[Part, ...], ...]  #: the answer, to be pasted
    steps: tuple[str, ...]  #: what to do next, where it was not seen
    other: Link | None  #: the other instant of a local time that comes twice
    caution: str
    strip: MomentStrip | None  #: None where nothing of the half hour is known
    says: str  #: the strip in words
    table: Table


@dataclass(frozen=True)
class MomentView:
    """What moment.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    when: str  #: the moment in words; empty where none is asked for
    answer: Answer | None  #: None where no moment is asked for
    trouble: str  #: why what was given is no moment; empty
    action: str  #: where the form goes
    day: str  #: as the form has it
    time: str  #: as the form has it
    modes: tuple[Choice, ...]  #: to choose from
    last_day: str  #: beyond which there is nothing to ask


@dataclass(frozen=True)
class Asked:
    """What an address asks for."""

    at_us: int | None = None
    wanted: str | None = None
    trouble: str = ""
    day: str = ""
    time: str = ""


def asked_of(query: Mapping[str, str], zone: ZoneInfo) -> Asked:
    """`at`, an instant with its offset, or `day` and `time`, local; moved by `move` minutes; for a caller of `mode`."""
    wanted = query.get("mode") or None
    day, time = query.get("day", "").strip(), query.get("time", "").strip()
    if wanted is not None and wanted not in MODE_LABELS:
        return Asked(trouble="The mode is none of those that the pages know: choose one from the list.")
    text = query.get("at") or (f"{day}T{time}" if day or time else "")
    if not text:
        return Asked(wanted=wanted)
    try:
        at = instant(text if "T" in text else "", zone) + _moved(query.get("move", ""))
        if not EARLIEST <= from_us(at, zone).date() < LATEST:
            raise ValueError(text)
    except (ValueError, OverflowError) as error:
        skipped = "the clocks go forward over it" in str(error)
        said = f"{time} does not exist on that day: the clocks go forward over it." if skipped else ""
        return Asked(None, wanted, said or "Give a day and a time, such as 2026-11-17 and 20:15.", day[:40], time[:40])
    local = from_us(at, zone)
    return Asked(at, wanted, "", f"{local:%Y-%m-%d}", f"{local:%H:%M:%S}".removesuffix(":00"))


def _moved(minutes: str) -> int:
    return (int(minutes) if minutes in ("-15", "15") else 0) * 60 * SECOND


def moment_view(source: Source, asked: Asked, frame: Frame) -> MomentView:
    """Asks the source for a moment and puts its page together. StoreError where the store can't be read."""
    today = from_us(source.now(), frame.zone)
    at = asked.at_us
    return MomentView(
        shell=frame.shell("Moment", "/moment"),
        when="" if at is None else f"{day_words(at, frame.zone)}, {clock_seconds(at, frame.zone)}",
        answer=None if at is None else _answer(source, at, asked.wanted, frame),
        trouble=asked.trouble,
        action=frame.to("/moment"),
        day=asked.day or f"{today:%Y-%m-%d}",
        time=asked.time,
        modes=(
            Choice("", "any mode", asked.wanted is None),
            *(Choice(mode, label, mode == asked.wanted) for mode, label in MODE_LABELS.items()),
        ),
        last_day=f"{today:%Y-%m-%d}",
    )


def _answer(source: Source, at: int, wanted: str | None, frame: Frame) -> Answer:
    found, logged = source.moment(at, wanted), source.logged()
    half = half_hour(source.activity(at - AROUND, at + AROUND), at, frame.station.timers)
    told = moment_sentences(found, logged, frame.station.names)
    other = other_instant(at, frame.zone)
    careful = any(one.rule in CAREFUL for one in found.incidents or ())
    return Answer(
        told=tuple(tuple(Part(visible(one.text, LONGEST), one.figure) for one in sentence) for sentence in told),
        steps=_steps(found, logged, frame.zone),
        other=None if other is None else frame.link(_other_words(other, frame.zone), moment_path(other, wanted)),
        caution=CAUTION if careful else "",
        strip=moment_strip(half, frame.zone) if found.near_seen_s else None,
        says=f"The half hour around {clock_seconds(at, frame.zone)}, by mode and slot; the table below has all of it.",
        table=_table(half, frame.zone),
    )


def _other_words(us: int, zone: ZoneInfo) -> str:
    return f"The other one: {clock_seconds(us, zone)}"


def _steps(found: Moment, logged: Logged, zone: ZoneInfo) -> tuple[str, ...]:
    """What to do next, where the moment was not seen."""
    if found.seen:
        return ()
    if logged.bounds is None:
        return ("`airtally check` says what is missing.",)
    first, last = (instant_words(us, zone, with_year=True) for us in logged.bounds)
    if found.at_us < logged.bounds[0] or found.at_us >= logged.bounds[1]:
        return (f"Choose a moment between {first} and {last}.",)
    return ("Intake tells what each log was silent about.",)


def _table(half: HalfHour, zone: ZoneInfo) -> Table:
    """All that the strip shows, in order of time."""
    rows: list[tuple[int, Row]] = []
    for lane in half.lanes:
        name = lane_label(lane)
        rows += [
            (one.start_us, Row(name, (_on_air(one.side), *_clocks(zone, one.start_us, one.end_us))))
            for one in lane.sent
        ]
        rows += [
            (tried, Row(mode_name(lane.mode), (f"refused: {REASONS[reason]}", *_clocks(zone, tried))))
            for tried, reason in lane.attempts
        ]
        rows += [(at, Row(name, ("began; its end is not in the log", *_clocks(zone, at)))) for at in lane.begun]
    rows += [(a, Row(Label("Not known"), ("no log tells of it", *_clocks(zone, a, b)))) for a, b in half.unseen]
    rows.sort(key=lambda one: one[0])
    head = (Label("Mode"), Label("What"), Label("From"), Label("Until"))
    caption = f"From {clock_seconds(half.start_us, zone)} to {clock_seconds(half.end_us, zone)}"
    return Table(caption, head, tuple(row for _, row in rows), frozenset({0}))


def _on_air(side: str | None) -> str:
    return f"on the air, {SIDES[side]}"


def _clocks(zone: ZoneInfo, start: int, end: int | None = None) -> tuple[str, str]:
    return clock_seconds(start, zone), words.NONE if end is None else clock_seconds(end, zone)
