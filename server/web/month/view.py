"""The Month page: the sheet of the committee's report, its figures linked to their definitions."""

from dataclasses import dataclass

from server.report.month import month_after, month_title, months_before
from server.report.seen import not_seen
from server.report.sheet import Sheet, sheet_of
from server.telling.parts import Label, Row, Table
from server.web.cell_map import MONTH, CellMap, cell_map
from server.web.frame import Frame
from server.web.moment.links import Happenings, incidents_one_by_one, shut_outs_one_by_one, timeouts_one_by_one
from server.web.month.charts import TrendChart, trend_chart
from server.web.notes.marks import NotesShown, day_marks, notes_of, notes_shown
from server.web.shell import Link, Shell
from server.web.source import Source
from shared.zones import from_us, month_window


@dataclass(frozen=True)
class TrendView:
    """One trend: its chart, and what it tells in words."""

    label: Label
    hours: str
    chart: TrendChart
    alt: str


@dataclass(frozen=True)
class MonthView:
    """What month.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    sheet: Sheet  #: the report's own sheet
    pdf: str  #: where the same as a PDF is; empty where no log tells of the month
    earlier: Link | None  #: the month before, where there is data
    later: Link | None  #: the month after, where it has begun
    trends: tuple[TrendView, ...]  #: the channel first
    trend_table: Table  #: their numbers
    refused: Happenings  #: shut-outs one by one
    timed_out: Happenings  #: time-outs one by one
    raised: Happenings  #: incidents one by one
    map: CellMap | None  #: day-by-hour map; None where nothing is known
    map_table: Table | None  #: its numbers
    notes: NotesShown  #: what was done at the station in these days


def month_view(source: Source, name: str, now_us: int, frame: Frame) -> MonthView:
    """Asks the source for a month and puts its page together. StoreError where the store can't be read."""
    month = source.month(name)
    bounds, window = source.first_and_last(), (month.start, month.end)
    activity, notes = source.activity(*window), notes_of(source, *window)
    marks = [(one.day.day - 1, one.hour, one.letter) for one in day_marks(notes, frame)]
    sheet = sheet_of(month)
    before = months_before(name, 1)[0]
    after = month_after(name)
    begun = month_window(after, month.zone)[0] < now_us
    return MonthView(
        shell=frame.shell(sheet.title, "/month"),
        sheet=sheet,
        pdf="" if not_seen(bounds, (month.start, month.end), month.zone) else frame.to(f"/month/{name}.pdf"),
        earlier=_link(before, frame) if bounds is not None and bounds[0] < month.start else None,
        later=_link(after, frame) if begun else None,
        trends=tuple(
            TrendView(trend.label, trend.columns[-1].hours, trend_chart(trend), trend.alt) for trend in sheet.trends
        ),
        trend_table=_trend_table(sheet),
        refused=shut_outs_one_by_one(activity, window, frame),
        timed_out=timeouts_one_by_one(activity, window, frame),
        raised=incidents_one_by_one(month.incidents, frame),
        map=cell_map(sheet.map.cells, sheet.map.days, MONTH, sheet.map.full, marks) if sheet.map else None,
        notes=notes_shown(notes, frame),
        map_table=_map_table(sheet),
    )


def first_shown(source: Source) -> str:
    """The last whole month with data; the month so far, where the first data is of this month; the last whole month
    where there is none.
    """
    known, now, zone = source.first_and_last(), source.now(), source.station().zone
    this = f"{from_us(now, zone):%Y-%m}"
    whole = months_before(this, 1)[0]
    if known is None:
        return whole
    first, last = (f"{from_us(instant, zone):%Y-%m}" for instant in known)
    return max(min(whole, last), first)


def _link(name: str, frame: Frame) -> Link:
    return frame.link(month_title(name), f"/month/{name}")


def _trend_table(sheet: Sheet) -> Table:
    """Months downwards, channel and modes across: hours."""
    columns = [trend.columns for trend in sheet.trends]
    rows = tuple(
        Row(Label(f"{month[0].month} {month[0].year}"), tuple(one.hours for one in month))
        for month in zip(*columns, strict=True)
    )
    return Table("Hours on the air", (Label("Month"), *(trend.label for trend in sheet.trends)), rows)


def _map_table(sheet: Sheet) -> Table | None:
    """Minutes on the air: days downwards, hours across."""
    if sheet.map is None:
        return None
    rows = tuple(Row(Label(day), minutes) for day, minutes in zip(sheet.map.days, sheet.map.numbers, strict=True))
    head = (Label("Day", "channel airtime"), *(Label(f"{hour:02d}") for hour in range(24)))
    return Table("Minutes on the air, by day and local clock hour", head, rows)
