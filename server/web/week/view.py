"""The Week page: all that its template gets."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from server.analytics.compare import CHANNEL
from server.analytics.figure_types import Figures
from server.analytics.overruns import Overrun
from server.telling import shut_outs, words
from server.telling.caution import CAUTION
from server.telling.changes import change_line
from server.telling.channel import channel_facts
from server.telling.duty import duty_table
from server.telling.lines import line_facts
from server.telling.mode_tables import mode_table
from server.telling.moments import day_name, edges_words
from server.telling.parts import Fact, Label, Row, Table
from server.telling.sentences import Verdict
from server.telling.talk import talk_facts
from server.telling.timeouts import timeout_table
from server.telling.traffic import busy_facts
from server.telling.unread import not_understood
from server.telling.verdict import WeekFacts, verdict
from server.web.cell_map import CellMap, hour_map
from server.web.charts import Bar, bars
from server.web.frame import Frame
from server.web.moment.links import Happenings, shut_outs_one_by_one, timeouts_one_by_one
from server.web.notes.marks import NotesShown, day_marks, notes_of, notes_shown
from server.web.shell import Link, Shell
from server.web.source import Source, Station, WeekBefore
from server.web.week.comparison import WEEKS_BACK, beside
from server.web.week.trends import WEEKS as TREND_WEEKS
from server.web.week.trends import Trends, trends
from server.web.weeks import Week
from shared.events import MODE_LABELS, MODES


@dataclass(frozen=True)
class ModeLine:
    """One mode's airtime: name, bar, number, and its change in words."""

    label: Label
    airtime: str
    share: str
    change: str
    notable: bool
    bar: Bar


@dataclass(frozen=True)
class WeekView:
    """What week.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    heading: str  #: `Week 47`
    dates: str  #: first and last day
    verdict: Verdict  #: the sentences that come first
    earlier: Link | None  #: the week before, where there is data
    later: Link | None  #: the week after, where it has begun
    modes: tuple[ModeLine, ...]  #: airtime by mode, most first
    mode_table: Table  #: the numbers of each mode
    channel: tuple[Fact, ...]  #: the whole channel
    hours: CellMap | None  #: day-by-hour map; None where nothing is known
    hour_table: Table  #: its numbers
    notes: NotesShown  #: what was done at the station in these days
    shut_outs: Table  #: who held, who wanted
    shut_out_modes: Table  #: shut-outs by mode
    shut_out_facts: tuple[Fact, ...]  #: what is estimated, and idle hold
    refused: Happenings  #: shut-outs one by one
    timeouts: Table  #: by mode
    timed_out: Happenings  #: time-outs one by one
    timeout: str  #: the time-out in force
    busy: tuple[Fact, ...]  #: busy hour
    duty: Table  #: the worst 6, 30 and 60 minutes
    caution: str  #: what duty figures are not
    talk: tuple[Fact, ...]  #: conversations and gaps
    trends: Trends | None  #: thirteen weeks of each mode; None where too few were seen
    lines: tuple[Fact, ...]  #: what intake read, and could not read


def week_view(source: Source, week: Week, now_us: int, frame: Frame) -> WeekView:
    """Asks the source for a week and puts its page together. StoreError where the store can't be read."""
    station = source.station()
    known = source.first_and_last()
    end = _upto(week, now_us)
    facts = week_facts(source, week, now_us)
    figures = facts.figures
    activity = source.activity(week.start_us, end)
    notes = notes_of(source, week.start_us, week.end_us)
    marks = [((one.day - week.monday).days, one.hour, one.letter) for one in day_marks(notes, frame)]
    hours = _whole_week(source.day_hour_map(week.start_us, end))
    earlier = known is not None and week.start_us > known[0]
    return WeekView(
        shell=frame.shell(f"Week {week.number}", "/week"),
        heading=f"Week {week.number}",
        dates=week.dates,
        verdict=verdict(facts),
        earlier=_week_link(week.shifted(-1), frame) if earlier else None,
        later=_week_link(week.shifted(1), frame) if week.end_us <= now_us else None,
        modes=mode_lines(facts),
        mode_table=mode_table(figures, facts.airtime),
        channel=channel_facts(figures),
        hours=hour_map(hours, [day_name(day) for day in week.days], words.SCALE_WORDS, marks)
        if np.isfinite(hours).any()
        else None,
        hour_table=hour_table(hours, week),
        notes=notes_shown(notes, frame),
        shut_outs=shut_outs.pair_table(figures),
        shut_out_modes=shut_outs.risk_table(figures),
        shut_out_facts=shut_outs.waiting_facts(figures),
        refused=shut_outs_one_by_one(activity, (week.start_us, end), frame),
        timeouts=timeout_table(figures),
        timed_out=timeouts_one_by_one(activity, (week.start_us, end), frame),
        timeout=words.duration(station.timers.timeout_s),
        busy=busy_facts(figures),
        duty=duty_table(figures, station.zone),
        caution=CAUTION,
        talk=talk_facts(figures, station.timers.courtesy_gap_s, bool(station.timers.wide)),
        trends=_trends(source, week, now_us),
        lines=line_facts(figures),
    )


def week_facts(source: Source, week: Week, now_us: int) -> WeekFacts:
    """All that the verdict of a week is made from, up to `now_us`. StoreError where the store can't be read."""
    station, known = source.station(), source.first_and_last()
    end = _upto(week, now_us)
    so_far = end < week.end_us
    figures = source.figures(week.start_us, end)
    before = [] if so_far or not figures.intake.lines else source.weeks_before(week.start_us, WEEKS_BACK)
    longest = source.longest_over(week.start_us, end)
    lines = not_understood(source.intake()) if known is None else 0
    edges = edges_words(known, week.start_us, end, station.zone, over=not so_far)
    return replace(_facts(figures, station, before, longest, so_far, known is None), edges=edges, lines=lines)


def _trends(source: Source, week: Week, now_us: int) -> Trends | None:
    """The thirteen whole weeks up to the one that is shown, or to the one before it where it is not over."""
    end = week.end_us if week.end_us <= now_us else week.start_us
    weeks = source.weeks_before(end, TREND_WEEKS)[::-1]
    return trends(weeks, source.notes(), source.station().zone)


def _upto(week: Week, now_us: int) -> int:
    return min(week.end_us, max(now_us, week.start_us + 1))


def _facts(
    figures: Figures,
    station: Station,
    before: Sequence[WeekBefore],
    longest: Overrun | None,
    so_far: bool,
    nothing_read: bool,
) -> WeekFacts:
    seen = figures.window.seen_share
    airtime = _airtime(figures, before) if seen else {}
    return WeekFacts(
        figures=figures,
        zone=station.zone,
        timeout_s=station.timers.timeout_s,
        airtime={
            mode: beside(value, seen, before, mode, lambda sums: sums.airtime_s) for mode, value in airtime.items()
        },
        shut_outs=beside(figures.attempts_shut_out or 0, seen, before, CHANNEL, lambda sums: sums.shut_outs),
        longest=longest,
        so_far=so_far,
        nothing_read=nothing_read,
    )


def _airtime(figures: Figures, before: Sequence[WeekBefore]) -> dict[str, float]:
    """By mode, and CHANNEL; also of modes that were on the air in the weeks before. What is not known is left out."""
    airtime = {} if figures.channel.airtime_s is None else {CHANNEL: figures.channel.airtime_s}
    for mode in MODES:
        its = figures.modes.get(mode)
        if its is not None and its.airtime_s is not None:
            airtime[mode] = its.airtime_s
        elif its is None and any(mode in week.sums and week.sums[mode].airtime_s for week in before):
            airtime[mode] = 0.0
    return airtime


def mode_lines(facts: WeekFacts) -> tuple[ModeLine, ...]:
    """Each mode's line, most airtime first; a mode that fell silent keeps its line while it was usual."""
    shown = [(mode, it) for mode, it in facts.airtime.items() if mode != CHANNEL and (it.now or it.usual)]
    shown.sort(key=lambda item: (-item[1].now, MODES.index(item[0])))
    drawn = bars([it.now for _, it in shown], [it.usual for _, it in shown])
    whole = facts.figures.channel.airtime_s
    return tuple(
        ModeLine(
            Label(MODE_LABELS[mode], "airtime", mode),
            words.duration(it.now),
            f"{words.percent(it.now / whole)} of airtime" if whole and it.now else "",
            change_line(it, over=not facts.so_far),
            bool(it.notable),
            bar,
        )
        for (mode, it), bar in zip(shown, drawn, strict=True)
    )


def hour_table(seconds: npt.NDArray[np.float64], week: Week) -> Table:
    """Minutes on the air, hours downwards so that a narrow page holds it."""

    days = tuple(Label(day_name(day)) for day in week.days)
    rows = tuple(
        Row(
            Label(f"{hour:02d}:00"),
            tuple(words.minutes(None if np.isnan(value) else float(value)) for value in seconds[:, hour]),
        )
        for hour in range(24)
    )
    return Table("Minutes on the air, by local clock hour", (Label("from", "channel airtime"), *days), rows)


def _whole_week(seconds: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Seven rows, also where the week is not over: days to come are not known."""
    missing = 7 - len(seconds)
    return np.concatenate([seconds, np.full((missing, 24), np.nan)]) if missing > 0 else seconds[:7]


def _week_link(week: Week, frame: Frame) -> Link:
    return frame.link(f"Week {week.number}", f"/week/{week.name}")
