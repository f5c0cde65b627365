"""A station and its store, as the command line and the pages ask of them: figures, overs, comparison, intake."""

import datetime as dt
import threading
import time
from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.alerts.around import incidents_around
from server.analytics.activity import Activity
from server.analytics.compare import CHANNEL
from server.analytics.dayhour import day_hour_map
from server.analytics.explored import Explored
from server.analytics.exposure import Exposure, exposure
from server.analytics.figure_types import Figures, Stretch
from server.analytics.figures import figures
from server.analytics.habit import Habit, habit_of
from server.analytics.hour_tallies import Reckoning, window_sums
from server.analytics.link_load import load_links
from server.analytics.link_silence import HISTORY as LINK_HISTORY
from server.analytics.linking import changes_by_link
from server.analytics.links import Links
from server.analytics.load import intake_counts, load_activity
from server.analytics.local_spans import By, local_spans
from server.analytics.moment import AROUND, moment
from server.analytics.moment_types import Moment
from server.analytics.overruns import Overrun
from server.analytics.reception import Reception
from server.analytics.reception_load import ReceptionLoader
from server.analytics.seen import FOREVER
from server.analytics.tallied import explored_spans, means_by_hour_of_week
from server.config import Station
from server.intake.overview import STRAY, LogRead, logs_read
from server.report.annex import radiator_of
from server.report.month import Month
from server.service import Health, Supervisor
from server.store.engine import Store, reading
from server.store.events import link_events
from server.store.facts import read_version
from server.store.lines import LINE_KINDS, first_and_last_line, line_stamps, stamped_after
from server.store.logs import all_logs
from server.store.notes import Note, add_note, drop_note, notes_and_timers
from server.store.overs import longest_over
from server.store.timers import TimerChange, add_timer_change, timer_changes
from server.telling.moment_sentences import Logged
from server.telling.targets import TargetNames
from server.telling.unread import not_understood
from server.web.source import Sums, WeekBefore
from shared import spans as sp
from shared.timers import Timers
from shared.zones import DAY, SECOND, from_us, midnight, month_window

if TYPE_CHECKING:
    import polars as pl

    from server.alerts.queries import StoreAlertQueries

KEPT_ACTIVITIES = 3
AT_ONCE: dict[By, int] = {"hour": 24, "day": 7, "week": 1, "month": 1}  # windows whose columns are read together
HABIT_OVER = 91 * DAY


@dataclass(frozen=True)
class Named:
    """Whose pages these are."""

    callsign: str
    name: str
    zone: ZoneInfo
    timers: Timers
    names: TargetNames


def clock() -> int:
    """Now, by this machine's clock, microseconds UTC."""
    return time.time_ns() // 1000


class StoreSource:
    """server.web.source.Source over a real store."""

    def __init__(self, engine: Store, station: Station, now_us: int | None = None) -> None:
        """`now_us` holds the clock at an instant (the demo's last one); otherwise it runs. Raises StationFileError."""
        self.supervisor = Supervisor(self.version)  #: of what runs beside the pages, which whoever starts it adds
        self._engine = engine
        self._station = station
        self._now_us = now_us
        self._ids = station.names_of_ids()
        self._named = Named(
            station.repeater.callsign,
            station.repeater.name,
            station.zone,
            station.timers_for_figures(),
            TargetNames(station.target),
        )
        self._reckoning = Reckoning(self._named.timers, station.zone, self._ids, station.timers.quiet_log_s)
        self._activities: OrderedDict[tuple[int, int, int], Activity] = OrderedDict()
        self._receptions = ReceptionLoader(station.zone, self._ids, station.timers.quiet_log_s)
        self._lock = threading.Lock()

    def version(self) -> str:
        with reading(self._engine) as connection:
            return str(read_version(connection))

    def station(self) -> Named:
        return self._named

    def health(self) -> Health:
        return self.supervisor.health()

    def now(self) -> int:
        return clock() if self._now_us is None else self._now_us

    def stands_still(self) -> bool:
        return self._now_us is not None

    def activity(self, start_us: int, end_us: int) -> Activity:
        """The columns around a window, the last few kept."""
        with reading(self._engine) as connection:
            key = (start_us, end_us, read_version(connection))
            with self._lock:
                if key in self._activities:
                    self._activities.move_to_end(key)
                    return self._activities[key]
            activity = load_activity(
                connection, start_us, end_us, names_of_ids=self._ids, quiet_log_s=self._station.timers.quiet_log_s
            )
        with self._lock:
            self._activities[key] = activity
            while len(self._activities) > KEPT_ACTIVITIES:
                self._activities.popitem(last=False)
        return activity

    def figures(self, start_us: int, end_us: int) -> Figures:
        with reading(self._engine) as connection:
            intake = intake_counts(connection, start_us, end_us)
        activity = self.activity(start_us, end_us)
        return figures(activity, (start_us, end_us), self._named.timers, self._named.zone, self._named.callsign, intake)

    def figures_by(self, start_us: int, end_us: int, by: By) -> Iterator[Figures]:
        """The figures of each local hour, day, week or month of a window, in order, the first and the last clipped."""
        named, spans = self._named, local_spans(start_us, end_us, by, self._named.zone)
        for place in range(0, len(spans), AT_ONCE[by]):
            some = spans[place : place + AT_ONCE[by]]
            with reading(self._engine) as connection:
                counts = [intake_counts(connection, *window) for window in some]
                activity = load_activity(
                    connection, some[0][0], some[-1][1],
                    names_of_ids=self._ids, quiet_log_s=self._station.timers.quiet_log_s,
                )  # fmt: skip
            for window, intake in zip(some, counts, strict=True):
                yield figures(activity, window, named.timers, named.zone, named.callsign, intake)

    def explored(self, spans: Sequence[tuple[int, int]]) -> Explored:
        """What adds up in consecutive spans, from tallies; spans begin and end with local hours."""
        return explored_spans(self._engine, self._reckoning, spans, self.now() + STRAY)

    def hour_of_week(self, start_us: int, end_us: int, column: str) -> npt.NDArray[np.float64]:
        """Means by local hour of the week (7, 24) of a column of the channel's tallies, per hour that was seen."""
        window, until = (start_us, end_us), self.now() + STRAY
        return means_by_hour_of_week(self._engine, self._reckoning, window, column, self._named.zone, until)

    def nameless_overs(self, start_us: int, end_us: int) -> "pl.DataFrame":
        from server.report.nameless import nameless_overs  # here, as frames are seldom wanted

        return nameless_overs(self._engine, (start_us, end_us), self._ids, self._named.zone, self._named.callsign)

    def exposure(self, start_us: int, end_us: int) -> Exposure:
        """The screening sheet, from the worst keyed shares of a window."""
        result = self.figures(start_us, end_us)
        return exposure(result.window, result.duty, radiator_of(self._station))

    def reception(self, start_us: int, end_us: int) -> Reception:
        """What the stations that are heard again and again have in common, by day of the window."""
        with reading(self._engine) as connection:
            return self._receptions.load(connection, start_us, end_us)

    def moment(self, at_us: int, wanted: str | None) -> Moment:
        """What held the repeater at an instant, for a caller of a mode if one is asked for."""
        with reading(self._engine) as connection:
            changes = changes_by_link(link_events(connection, None, FOREVER))
            near = (at_us - AROUND, at_us + AROUND)
            incidents = incidents_around(connection, *near, self._station, self.now())
        named = self._named
        return moment(self.activity(*near), at_us, wanted, named.timers, named.zone, changes, incidents)

    def logged(self) -> Logged:
        """How far the logs reach, and the present."""
        bounds = self.first_and_last()
        return Logged(bounds, self.now(), 0 if bounds else not_understood(self.intake()))

    def links(self, start_us: int, end_us: int) -> Links:
        """Each link over a window; its silences are judged by the 13 weeks up to the window's end."""
        since = min(start_us, end_us - LINK_HISTORY)
        activity, bounds = self.activity(since, end_us), self.first_and_last()
        blind_s = sp.length(sp.clip(activity.blind, start_us, end_us)) / SECOND
        window = Stretch(start_us, end_us, self._named.zone, blind_s)
        with reading(self._engine) as connection:
            return load_links(connection, window, activity.blind, bounds[1] if bounds else since, since)

    def lines_read(self) -> dict[str, int]:
        with reading(self._engine) as connection:
            rows = all_logs(connection)
        return {kind: sum(getattr(row, kind) for row in rows) for kind in LINE_KINDS}

    def weeks_before(self, start_us: int, n: int) -> Sequence[WeekBefore]:
        bounds = self.first_and_last()
        monday = from_us(start_us, self._named.zone).date()
        weeks = []
        for back in range(1, n + 1):
            first = midnight(monday - dt.timedelta(days=7 * back), self._named.zone)
            after = midnight(monday - dt.timedelta(days=7 * (back - 1)), self._named.zone)
            weeks.append(self._past(first, after, bounds))
        return weeks

    def _past(self, start: int, end: int, bounds: tuple[int, int] | None) -> WeekBefore:
        logged = sp.clip(sp.spans([bounds[0]], [bounds[1] + 1]), start, end) if bounds else sp.NONE
        if not len(logged):
            return WeekBefore(start, end, 0.0, {})
        sums_by_mode = window_sums(self._engine, self._reckoning, start, end)
        sums = {mode or CHANNEL: _sums(its) for mode, its in sums_by_mode.items()}
        return WeekBefore(start, end, sums_by_mode[""]["seen_us"] / (end - start), sums)

    def day_hour_map(self, start_us: int, end_us: int) -> npt.NDArray[np.float64]:
        activity = self.activity(start_us, end_us)
        return day_hour_map(activity.on_air, (start_us, end_us), self._named.zone, activity.blind).seconds

    def month(self, name: str) -> Month:
        """A month, 2026-10, as the report and the Month page show it. Raises StoreError; ValueError where the name is
        no month.
        """
        from server.report.gather import month_of

        window = start, end = month_window(name, self._named.zone)
        figures, activity = self.figures(start, max(start + 1, min(end, self.now()))), self.activity(*window)
        return month_of(self._engine, self._station, name, activity, figures, self.now())

    def notes(self) -> Sequence[Note]:
        return notes_and_timers(self._engine)

    def add_note(self, at_us: int, kind: str, text: str, for_committee: bool) -> None:
        add_note(self._engine, at_us, kind, text, for_committee=for_committee)

    def drop_note(self, number: int) -> bool:
        return drop_note(self._engine, number)

    def timer_changes(self) -> Sequence[TimerChange]:
        return timer_changes(self._engine)

    def add_timer_change(self, at_us: int, note: str) -> None:
        add_timer_change(self._engine, at_us, note)

    def longest_over(self, start_us: int, end_us: int) -> Overrun | None:
        with reading(self._engine) as connection:
            longest = longest_over(connection, start_us, end_us)
        return None if longest is None else Overrun(longest[0], longest[1], longest[2] / SECOND)

    def first_and_last(self) -> tuple[int, int] | None:
        """Lines stamped more than a day ahead of the clock are left out: that clock was wrong."""
        with reading(self._engine) as connection:
            return first_and_last_line(connection, self.now() + STRAY)

    def habits(self) -> Sequence[tuple[str, Habit]]:
        """Of each log that is known well enough, how long it is silent, by its last 13 weeks."""
        habits = []
        with reading(self._engine) as connection:
            for row in all_logs(connection):
                last = min(row.last_us, self.now()) if row.last_us is not None else 0
                habit = habit_of(line_stamps(connection, last - HABIT_OVER, last + 1, log_id=row.id))
                habits += [(row.name, habit)] if habit is not None else []
        return habits

    def stamped_ahead(self) -> Sequence[tuple[str, int, int]]:
        """Logs with lines stamped more than a day ahead of the clock: name, how many lines, the last instant."""
        with reading(self._engine) as connection:
            return stamped_after(connection, self.now() + STRAY)

    def alerts(self) -> "StoreAlertQueries":
        return self._desk

    @cached_property
    def _desk(self) -> "StoreAlertQueries":
        from server.alerts.queries import StoreAlertQueries

        return StoreAlertQueries(self._engine, self._station)

    def intake(self) -> Sequence[LogRead]:
        with reading(self._engine) as connection:
            return logs_read(connection, self._station, self.now())


def _sums(its: dict[str, int]) -> Sums:
    return Sums(its["airtime_us"] / SECOND, its["shut_outs"], its["timeouts"], its["timeouts_estimated"])
