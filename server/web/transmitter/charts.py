"""The geometry of the Transmitter page's charts: plain numbers, as in server.web.charts."""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from server.telling.moments import instant_words
from server.telling.words import count, percent
from server.web.charts import Mark, NoteMark
from shared import spans as sp
from shared.zones import HOUR, SECOND

STRIP_WIDTH, STRIP_HEIGHT = 340.0, 34.0
BEFORE, LEAST_AFTER, MOST_AFTER = HOUR // 2, HOUR // 2, 3 * HOUR
BARS = 400


@dataclass(frozen=True)
class Line:
    """A threshold: where it lies, and how it is drawn."""

    y: float
    kind: str  #: day, quiet or rating: a class of the style sheet
    label: str


@dataclass(frozen=True)
class Column:
    x: float
    y: float
    width: float
    height: float
    seen: bool = True  #: nothing is known of a week that was not seen: it is hatched from top to bottom


@dataclass(frozen=True)
class WorstChart:
    """The worst of each week, as columns, with the thresholds across."""

    title: str
    width: float
    height: float
    columns: tuple[Column, ...]
    lines: tuple[Line, ...]
    marks: tuple[Mark, ...]
    says: str
    noted: tuple[NoteMark, ...] = ()  #: the keeper's notes


def worst_chart(
    title: str,
    worst: Sequence[float | None],
    limits: Sequence[tuple[str, float, str]],
    labels: Sequence[str],
    says: str,
    notes: Sequence[tuple[float, str]] = (),
) -> WorstChart:
    """Columns from none to the whole, None where a week was not seen; `limits` as (kind, share, label); `notes` as
    weeks after the first, and letters.
    """
    top, depth, step = 8.0, 96.0, 300.0 / max(1, len(worst))

    def y(share: float) -> float:
        return round(top + depth * (1 - share), 1)

    columns = tuple(
        Column(
            round(34 + place * step + 2, 1),
            y(1.0 if share is None else share),
            round(step - 4, 1),
            round(depth * (1.0 if share is None else share), 1),
            share is not None,
        )
        for place, share in enumerate(worst)
    )
    marks = [Mark(0, y(share) + 4, percent(share)) for share in (0.0, 0.5, 1.0)]
    if labels:
        marks += [Mark(34, top + depth + 16, labels[0]), Mark(290, top + depth + 16, labels[-1])]
    return WorstChart(
        title,
        340,
        top + depth + 22,
        columns,
        tuple(Line(y(share), kind, label) for kind, share, label in limits),
        tuple(marks),
        says,
        tuple(NoteMark(round(34 + after * step, 1), top, depth, letter) for after, letter in notes),
    )


@dataclass(frozen=True)
class Strip:
    """The evidence of one incident: the finished overs around it, and from when to when it stood raised. An over
    without
    an end is a mark at its start: how long it went on is not known.
    """

    width: float
    height: float
    keyed: tuple[tuple[float, float], ...]  #: x and width of each keyed stretch, of finished overs
    unseen: tuple[tuple[float, float], ...]  #: x and width of each stretch that no log tells of
    unfinished: tuple[float, ...]  #: x of the start of each over without an end
    open_says: str  #: what such a mark means; empty where there is none
    raised_x: float
    raised_width: float
    first: str
    last: str
    says: str


@dataclass(frozen=True)
class Evidence:
    """What a strip is drawn from."""

    keyed: sp.Spans  #: of finished overs
    blind: sp.Spans
    unfinished: Sequence[int]  #: when overs began that have no end


def strip(evidence: Evidence, raised: int, cleared: int | None, now: int, zone: ZoneInfo) -> Strip:
    """From half an hour before it was raised to half an hour after, or to its end, three hours at the most."""
    until = cleared if cleared is not None else now
    start = raised - BEFORE
    end = min(max(until, raised + LEAST_AFTER), raised + MOST_AFTER)

    def x(instant: int) -> float:
        return round((min(max(instant, start), end) - start) / (end - start) * STRIP_WIDTH, 1)

    def drawn(covered: sp.Spans) -> tuple[tuple[float, float], ...]:
        return tuple((x(int(a)), max(0.4, round(x(int(b)) - x(int(a)), 1))) for a, b in covered)

    near = sp.clip(evidence.keyed, start, end)
    near = near[np.argsort(near[:, 0] - near[:, 1], kind="stable")[:BARS]]  # the longest, where there are very many
    opened = [at for at in evidence.unfinished if start <= at < end]
    stood = (raised, max(raised + SECOND, min(until, end)))
    seen = sp.length(sp.complement(evidence.blind, *stood))
    share = sp.length(sp.clip(evidence.keyed, *stood)) / seen if seen else None
    return Strip(
        width=STRIP_WIDTH,
        height=STRIP_HEIGHT,
        keyed=drawn(near),
        unseen=drawn(sp.clip(evidence.blind, start, end)),
        unfinished=tuple(x(at) for at in opened[:BARS]),
        open_says=_open_words(opened, zone),
        raised_x=x(raised),
        raised_width=max(1.0, round(x(until) - x(raised), 1)),
        first=instant_words(start, zone),
        last=instant_words(end, zone),
        says=f"Keyed time of finished overs from {instant_words(start, zone)} to {instant_words(end, zone)}; "
        + (
            "its keyed share while it stood raised is not known."
            if share is None
            else f"{percent(share)} keyed while it stood raised."
        ),
    )


def _open_words(opened: Sequence[int], zone: ZoneInfo) -> str:
    if not opened:
        return ""
    if len(opened) == 1:
        return (
            f"The mark at {instant_words(opened[0], zone)} is the start of an over without an end in the log. How "
            "long it went on is not known, so no bar is drawn."
        )
    return (
        f"Each of {count(len(opened), 'mark')} is the start of an over without an end in the log. How long they "
        "went on is not known, so no bar is drawn."
    )
