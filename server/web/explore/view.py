"""The Explore page: all that its template gets."""

import datetime as dt
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

import numpy as np

from server.analytics.activity import Window
from server.analytics.explored import CHANNEL, Explored, wall, year_before
from server.telling.caution import CAUTION
from server.telling.explored import MEASURES, OF_THE_CHANNEL, modes_by_airtime, target_tables, totals_table
from server.telling.modes import mode_name
from server.telling.moments import weekday_words
from server.telling.numbers import UNKNOWN, exact_duration
from server.telling.parts import Label, Row, Table
from server.telling.words import NONE
from server.web.explore.asked import Asked
from server.web.explore.data import MOST_DAYS_OF_TARGETS, Look, before_label, scale_of
from server.web.explore.words import span_label, stretch_label
from server.web.frame import Frame
from server.web.shell import Link, Shell
from shared.zones import SECOND, from_us

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
    second: tuple[str, str]  #: beginning and end of the second stretch, for the form; empty without one
    proposed: tuple[Link, ...]  #: what may stand beside it
    onward: tuple[Link, ...]  #: earlier, later, wider
    files: tuple[Link, ...]  #: the steps of the stretch
    overs: tuple[Link, ...]  #: its overs; none where they are too many for a file
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
    targets: tuple[Table, ...]  #: by target and by reach; none where the stretch is too long
    most_days_of_targets: int  #: days of the longest stretch that has them
    caution: str  #: as duty is shown


def explore_view(look: Look, asked: Asked, frame: Frame, plotly: str, script: str) -> ExploreView:
    found, before = look.found, look.before
    here = frame.to("/explore")
    dates = stretch_label(*asked.window, asked.zone)
    totals = [totals_table(found, "This stretch")]
    totals += [totals_table(before, before_label(asked))] if before else []
    first, last = _for_form(asked.window, asked.zone)
    second = _for_form(asked.second, asked.zone) if asked.second else ("", "")
    return ExploreView(
        shell=frame.shell("Explore", "/explore"),
        dates=dates,
        action=here,
        first=first,
        last=last,
        measures=tuple(Choice(one.name, one.label.text, one is asked.measure) for one in MEASURES.values()),
        back=asked.back,
        second=second,
        proposed=_proposed(asked, here),
        onward=tuple(
            Link(text, f"{here}?{asked.query(window)}")
            for text, window in (("Earlier", asked.moved(-1)), ("Later", asked.moved(1)), ("Wider", asked.wider()))
        ),
        files=tuple(Link(kind, f"{here}/rows.{kind.lower()}?{asked.query()}") for kind in ("CSV", "Parquet")),
        overs=_files(asked, here),
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
        targets=target_tables(look.targets, frame.station.names) if look.targets else (),
        most_days_of_targets=MOST_DAYS_OF_TARGETS,
        caution=CAUTION,
    )


def _files(asked: Asked, here: str) -> tuple[Link, ...]:
    """The files of its overs."""
    if asked.overs_refused:
        return ()
    return tuple(Link(kind, f"{here}/overs.{kind.lower()}?{asked.query()}") for kind in ("CSV", "Parquet"))


def _for_form(window: Window, zone: ZoneInfo) -> tuple[str, str]:
    start, end = (f"{from_us(us, zone):%Y-%m-%dT%H:%M}" for us in window)
    return start, end


def _compared(asked: Asked) -> str:
    if not asked.compared:
        return ""
    before = asked.before
    start, end = before[0][0], before[-1][1]
    dates = stretch_label(start, end, asked.zone)
    if not asked.second:
        said = f"Beside it stands the same {before_label(asked)}, with the same days of the week and times of day: "
        return f"{said}{dates}." + _clocks(asked, end - start)
    said = f"Beside it stands {dates}, step by step from its beginning."
    first, second = wall(asked.window[0], asked.zone), wall(start, asked.zone)
    apart = first - second
    if apart.total_seconds() % (7 * 86_400):
        said += f" The days of the week differ: it begins {_begins(second)}, this stretch {_begins(first)}."
    longer = (wall(end, asked.zone) - second) - (wall(asked.window[1], asked.zone) - first)
    if longer:
        by = exact_duration(abs(longer.total_seconds()) * SECOND)
        return said + f" It is {by} {'longer' if longer.total_seconds() > 0 else 'shorter'}."
    return said + _clocks(asked, end - start)


def _begins(at: dt.datetime) -> str:
    return f"on {weekday_words(at)}"


def _clocks(asked: Asked, length: int) -> str:
    """How much longer a stretch of the same local times is than the first."""
    longer = length - (asked.window[1] - asked.window[0])
    if not longer:
        return ""
    by = exact_duration(abs(longer))
    return f" It is {by} {'longer' if longer > 0 else 'shorter'}, as the clocks changed in one of the two."


def _proposed(asked: Asked, here: str) -> tuple[Link, ...]:
    """The same days of the week earlier."""
    alone = replace(asked, second=None)
    year = year_before(asked.window[0], asked.zone)
    texts = {0: "nothing", 1: "the week before", 4: "4 weeks before", year: "the same week a year before"}
    return tuple(Link(text, f"{here}?{alone.query(back=weeks)}") for weeks, text in texts.items())


def _heads(found: Explored, asked: Asked) -> tuple[Label, ...]:
    modes = () if asked.measure.name in OF_THE_CHANNEL else tuple(mode_name(mode) for mode in modes_by_airtime(found))
    before = (Label(before_label(asked)),) if asked.compared else ()
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
