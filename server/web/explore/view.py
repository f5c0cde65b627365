"""The Explore page: all that its template gets."""

from dataclasses import dataclass

import numpy as np

from server.analytics.activity import Window
from server.analytics.explored import CHANNEL, Explored
from server.telling.caution import CAUTION
from server.telling.explored import MEASURES, OF_THE_CHANNEL, modes_by_airtime, totals_table
from server.telling.modes import mode_name
from server.telling.numbers import UNKNOWN, exact_duration
from server.telling.parts import Label, Row, Table
from server.telling.words import NONE
from server.web.explore.asked import Asked
from server.web.explore.data import Look, scale_of
from server.web.explore.words import span_label, stretch_label
from server.web.frame import Frame
from server.web.shell import Link, Shell
from shared.zones import from_us

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True)
class Choice:
    """One of a list."""

    value: str
    text: str
    chosen: bool


@dataclass(frozen=True)
class SpanRow:
    """One span: a link that looks into it, and the measure in words."""

    link: Link
    cells: tuple[str, ...]


@dataclass(frozen=True)
class ExploreView:
    """What explore.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    dates: str  #: the stretch
    action: str  #: where the form goes
    first: str  #: its beginning, for the form
    last: str  #: its end, for the form
    measures: tuple[Choice, ...]  #: what can be looked at
    back: int  #: weeks
    onward: tuple[Link, ...]  #: earlier, later, wider
    files: tuple[Link, ...]  #: the rows of the stretch
    again: str  #: the address that shows the same again
    seen: bool  #: whether anything of it was seen
    totals: tuple[Table, ...]  #: all measures, of the stretch and of the one before
    compared: str  #: what the stretch before is
    heads: tuple[Label, ...]  #: columns of the spans
    spans: tuple[SpanRow, ...]  #: the measure by span
    caption: str  #: of the spans
    week: Table  #: hours of the week
    data: str  #: address of the numbers, for the script
    look: str  #: address that a brushed stretch is shown at
    plotly: str  #: address of the plotting library
    script: str  #: address of the page's own script
    caution: str  #: as duty is shown


def explore_view(look: Look, asked: Asked, frame: Frame, plotly: str, script: str) -> ExploreView:
    found, before = look.found, look.before
    here = frame.to("/explore")
    dates = stretch_label(*asked.window, asked.zone)
    totals = [totals_table(found, "This stretch")]
    totals += [totals_table(before, f"{_weeks(asked.back)} before")] if before else []
    first, last = (f"{from_us(us, asked.zone):%Y-%m-%dT%H:%M}" for us in asked.window)
    return ExploreView(
        shell=frame.shell("Explore", "/explore"),
        dates=dates,
        action=here,
        first=first,
        last=last,
        measures=tuple(Choice(one.name, one.label.text, one is asked.measure) for one in MEASURES.values()),
        back=asked.back,
        onward=tuple(
            Link(text, f"{here}?{asked.query(window)}")
            for text, window in (("Earlier", asked.moved(-1)), ("Later", asked.moved(1)), ("Wider", asked.wider()))
        ),
        files=tuple(Link(kind, f"{here}/rows.{kind.lower()}?{asked.query()}") for kind in ("CSV", "Parquet")),
        again=f"{here}?{asked.query()}",
        seen=bool(found.total(CHANNEL, "seen_us")),
        totals=tuple(totals),
        compared=_compared(asked),
        heads=_heads(found, asked),
        spans=_spans(found, before, asked, here),
        caption=f"{asked.measure.label.text}, by {asked.by}",
        week=_week(look, asked),
        data=f"{here}/data?{asked.query()}",
        look=f"{here}?measure={asked.measure.name}&back={asked.back}",
        plotly=frame.to(plotly),
        script=frame.to(script),
        caution=CAUTION,
    )


def _weeks(n: int) -> str:
    return "1 week" if n == 1 else f"{n} weeks"


def _compared(asked: Asked) -> str:
    if not asked.back:
        return ""
    before = asked.before
    said = f"Beside it stands the same {_weeks(asked.back)} before, with the same days of the week and times of day: "
    said += f"{stretch_label(before[0][0], before[-1][1], asked.zone)}."
    longer = (before[-1][1] - before[0][0]) - (asked.window[1] - asked.window[0])
    if longer:
        by = exact_duration(abs(longer))
        said += f" It is {by} {'longer' if longer > 0 else 'shorter'}, as the clocks changed in one of the two."
    return said


def _heads(found: Explored, asked: Asked) -> tuple[Label, ...]:
    modes = () if asked.measure.name in OF_THE_CHANNEL else tuple(mode_name(mode) for mode in modes_by_airtime(found))
    before = (Label(f"{_weeks(asked.back)} before"),) if asked.back else ()
    return (Label(asked.by.capitalize()), Label("Channel", "channel airtime"), *before, *modes)


def _spans(found: Explored, before: Explored | None, asked: Asked, here: str) -> tuple[SpanRow, ...]:
    column, words = asked.measure.column, asked.measure.words
    parts = [found.values(CHANNEL, column)]
    parts += [before.values(CHANNEL, column)] if before else []
    if asked.measure.name not in OF_THE_CHANNEL:
        parts += [found.values(mode, column) for mode in modes_by_airtime(found)]

    def link(span: Window) -> Link:
        return Link(span_label(span[0], asked.by, asked.zone), f"{here}?{asked.query(span)}")

    return tuple(
        SpanRow(link(span), tuple(words(part[place]) for part in parts)) for place, span in enumerate(asked.spans)
    )


def _week(look: Look, asked: Asked) -> Table:
    """Means of the measure by hour of the week, per hour that was seen; of a share the greatest."""
    measure = asked.measure
    cells = look.cells / scale_of(asked) / measure.scale
    digits = 1 if measure.unit == "number" else 0
    rows = []
    for day, row in zip(DAYS, cells, strict=True):
        texts = [NONE if np.isnan(cell) else f"{cell:.{digits}f}" for cell in row]
        rows.append(Row(Label(day), tuple(texts)))
    head = (Label("Day"), *(Label(f"{hour:02d}") for hour in range(24)))
    unit = f"the greatest, {measure.unit}" if measure.is_share else f"mean {measure.unit}"
    caption = f"{measure.label.text} in an hour of the week, {unit}; {NONE} is {UNKNOWN}"
    return Table(caption, head, tuple(rows))
