"""A station and its store, as the command line and the pages ask of them: figures, overs, comparison, intake."""

import datetime as dt
import threading
import time
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from server.analytics.activity import Activity
from server.analytics.dayhour import day_hour_map
from server.analytics.exposure import Exposure, Radiator, exposure
from server.analytics.figure_types import Figures, Stretch
from server.analytics.figures import figures
from server.analytics.habit import Habit, habit_of
from server.analytics.kept import Reckoning, window_sums
from server.analytics.linking import changes_by_link
from server.analytics.links import LinkOvers, Links, links
from server.analytics.load import intake_counts, load_activity
from server.analytics.polish import Heard
from server.analytics.reception import WEEKS_13, Reception, reception
from server.analytics.segments import REACH
from server.config import Station
from server.intake.files import covers
from server.intake.outdated import to_read_again
from server.intake.troubles import Trouble, load_troubles
from server.report.month import Month
from server.service import Health, Supervisor
from server.store.engine import Connection, Store, reading
from server.store.events import link_events
from server.store.facts import read_version
from server.store.files import files_of_log, waiting_files
from server.store.lines import first_and_last_line, line_stamps, lines_since, newest_unread, stamped_after
from server.store.logs import LogRow, all_logs, loose_ends
from server.store.overs import levels_heard, link_overs_reaching_into, longest_over
from server.store.timers import TimerChange, add_timer_change, timer_changes
from server.telling.targets import TargetNames
from server.web.source import CHANNEL, FileRead, LogRead, LongestOver, Sums, WeekBefore
from shared import spans as sp
from shared.events import MODES
from shared.timers import Timers
from shared.zones import DAY, HOUR, SECOND, from_us, midnight, month_window

if TYPE_CHECKING:
    from server.alerts.queries import StoreAlertQueries

KEPT_ACTIVITIES = 3
GAPS_OVER = 28 * DAY  # how far back the Intake page looks for gaps
GAP_S = 3600.0  # what it calls a gap where quiet_log_s is not set
EXAMPLES = 8
LATELY = 7 * DAY  # of which the first page tells how well a log is read
#: Of these a default claims nothing about the station, so exposure takes them only where the keeper set them.
SET_OR_UNKNOWN = ("frequency_mhz", "power_w", "feeder_loss_db", "antenna_gain_dbi")
HABIT_OVER = 91 * DAY
STRAY = DAY  # a stamp further than this beyond the clock is a clock that was wrong


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
            found = load_activity(
                connection, start_us, end_us, names_of_ids=self._ids, quiet_log_s=self._station.timers.quiet_log_s
            )
        with self._lock:
            self._activities[key] = found
            while len(self._activities) > KEPT_ACTIVITIES:
                self._activities.popitem(last=False)
        return found

    def figures(self, start_us: int, end_us: int) -> Figures:
        with reading(self._engine) as connection:
            intake = intake_counts(connection, start_us, end_us)
        activity = self.activity(start_us, end_us)
        return figures(activity, (start_us, end_us), self._named.timers, self._named.zone, self._named.callsign, intake)

    def exposure(self, start_us: int, end_us: int) -> Exposure:
        """The screening sheet, from the worst keyed shares of a window."""
        found = self.figures(start_us, end_us)
        return exposure(found.window, found.duty, self._radiator())

    def reception(self, start_us: int, end_us: int) -> Reception:
        """What the stations that are heard again and again have in common, by day of the window. Looked at are the 13
        weeks up to its end, or all of it where that is longer, and what of a change is seen after it.
        """
        zone = self._named.zone
        last = from_us(end_us - 1, zone).date()
        first = min(from_us(start_us, zone).date(), last - dt.timedelta(days=WEEKS_13 - 1))
        days = [first + dt.timedelta(days=n) for n in range((last - first).days + 1 + REACH)]
        edges = np.array([midnight(day, zone) for day in [*days, days[-1] + dt.timedelta(days=1)]], dtype=np.int64)
        with reading(self._engine) as connection:
            told = levels_heard(connection, int(edges[0]), int(edges[-1]))
        named = [self._ids.get(text, text) for text in told["station"]]
        heard = Heard(
            start=np.array(told["start"], dtype=np.int64),
            mode=np.array([MODES.index(mode) for mode in told["mode"]], dtype=np.int64),
            station=np.unique(np.array(named, dtype=np.str_), return_inverse=True)[1].astype(np.int64),
            rssi_dbm=np.array(told["rssi_dbm"], dtype=np.float64),
            ber_pct=np.array(told["ber_pct"], dtype=np.float64),
        )
        blind = sp.clip(self.activity(start_us, end_us).blind, start_us, end_us)
        return reception(Stretch(start_us, end_us, zone, sp.length(blind) / SECOND), heard, days, edges)

    def links(self, start_us: int, end_us: int) -> Links:
        """Each link over a window."""
        activity, bounds = self.activity(start_us, end_us), self.first_and_last()
        window, blind = (start_us, end_us), sp.clip(activity.blind, start_us, end_us)
        with reading(self._engine) as connection:
            changes = changes_by_link(link_events(connection, None, end_us))
            told = link_overs_reaching_into(connection, start_us, end_us)
        overs = LinkOvers(
            start=np.array(told["start"], dtype=np.int64), end=np.array(told["end"], dtype=np.int64),
            mode=told["mode"], target=told["target"], loss_pct=np.array(told["loss_pct"], dtype=np.float64),
        )  # fmt: skip
        stretch = Stretch(*window, self._named.zone, sp.length(blind) / SECOND)
        return links(changes, overs, stretch, blind, bounds[1] if bounds else start_us)

    def _radiator(self) -> Radiator:
        """What the keeper has set; a feeder loss or a gain that is only a default is not known."""
        given = self._station.transmitter
        known = {name: getattr(given, name) for name in SET_OR_UNKNOWN if name in given.model_fields_set}
        return Radiator(**known, ground_reflection=given.ground_reflection)

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
        found = window_sums(self._engine, self._reckoning, start, end)
        sums = {mode or CHANNEL: Sums(its["airtime_us"] / SECOND, its["shut_outs"]) for mode, its in found.items()}
        return WeekBefore(start, end, found[""]["seen_us"] / (end - start), sums)

    def day_hour_map(self, start_us: int, end_us: int) -> npt.NDArray[np.float64]:
        activity = self.activity(start_us, end_us)
        return day_hour_map(activity.on_air, (start_us, end_us), self._named.zone, activity.blind).seconds

    def month(self, name: str) -> Month:
        """A month, 2026-10, as the report and the Month page show it. Raises StoreError; ValueError where the name is no month."""
        from server.report.gather import month_of

        window = start, end = month_window(name, self._named.zone)
        figures, activity = self.figures(start, max(start + 1, min(end, self.now()))), self.activity(*window)
        return month_of(self._engine, self._station, name, activity, figures, self.now())

    def timer_changes(self) -> Sequence[TimerChange]:
        return timer_changes(self._engine)

    def add_timer_change(self, at_us: int, note: str) -> None:
        add_timer_change(self._engine, at_us, note)

    def longest_over(self, start_us: int, end_us: int) -> LongestOver | None:
        with reading(self._engine) as connection:
            found = longest_over(connection, start_us, end_us)
        return None if found is None else LongestOver(found[0], found[1], found[2] / SECOND)

    def first_and_last(self) -> tuple[int, int] | None:
        """Lines stamped more than a day ahead of the clock are left out: that clock was wrong."""
        with reading(self._engine) as connection:
            return first_and_last_line(connection, self.now() + STRAY)

    def habits(self) -> Sequence[tuple[str, Habit]]:
        """Of each log that is known well enough, how long it is silent, by its last 13 weeks."""
        found = []
        with reading(self._engine) as connection:
            for row in all_logs(connection):
                last = min(row.last_us, self.now()) if row.last_us is not None else 0
                habit = habit_of(line_stamps(connection, last - HABIT_OVER, last + 1, log_id=row.id))
                found += [(row.name, habit)] if habit is not None else []
        return found

    def stamped_ahead(self) -> Sequence[tuple[str, int, int]]:
        """Logs with lines that are stamped more than a day ahead of the clock: name, how many lines, the last instant."""
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
            logs = all_logs(connection)
            found = [self._log_read(connection, row) for row in logs]
            troubles = load_troubles(connection)
            again = {one.log: one for one in to_read_again(connection, self._station)}
            waiting = waiting_files(connection)
        found = [
            replace(log, again=again.get(log.name), waiting=[says for name, says in waiting if name == log.name])
            for log in found
        ]
        read = {row.name for row in logs}
        unread = [name for name in dict.fromkeys(trouble.log for trouble in troubles) if name and name not in read]
        places = [(log.place(self._station.folder), log.dialect) for log in self._station.log]
        for path, dialect in {path: dialect for path, dialect in reversed(places)}.items():
            troubled = [name for name in unread if name != path and _covers(self._station, path, name)]
            names = troubled or ([] if any(_covers(self._station, path, name) for name in read) else [path])
            found += [LogRead(name, dialect, 0, 0, 0, 0, 0, 0, None, None) for name in sorted(names)]
        return [replace(log, troubles=[one.says for one in troubles if self._is_about(one, log.name)]) for log in found]

    def _is_about(self, trouble: Trouble, log: str) -> bool:
        """Whether it keeps this log from being read: told of the log itself, of a [[log]] path that covers it, or of all."""
        paths = {given.place(self._station.folder) for given in self._station.log}
        return trouble.log in ("", log) or (trouble.log in paths and _covers(self._station, trouble.log, log))

    def _log_read(self, connection: Connection, row: LogRow) -> LogRead:
        orphans, doubtful = loose_ends(connection, row.id)
        last = min(row.last_us, self.now() + STRAY) if row.last_us is not None else None
        gaps: list[tuple[int, int]] = []
        if last is not None:
            stamps = line_stamps(connection, last - GAPS_OVER, last + 1, log_id=row.id)
            long = np.diff(stamps) > (self._station.timers.quiet_log_s or GAP_S) * SECOND
            gaps = [(int(a), int(b)) for a, b in zip(stamps[:-1][long], stamps[1:][long], strict=True)]
        return LogRead(
            name=row.name,
            dialect=row.dialect,
            lines=row.lines,
            understood=row.understood,
            ignored=row.ignored,
            unread=row.unread,
            orphans=orphans,
            doubtful=doubtful,
            first_us=row.first_us,
            last_us=row.last_us,
            gaps=gaps,
            examples=[(one.at, one.text) for one in newest_unread(connection, row.id, EXAMPLES)],
            files=[FileRead(*one) for one in files_of_log(connection, row.id)],
            lately=lines_since(connection, row.id, self.now() - LATELY),
            latest=(0, 0) if last is None else lines_since(connection, row.id, last - HOUR),
            late_after_s=self._station.timers.quiet_log_s,
            named=any(_covers(self._station, log.place(self._station.folder), row.name) for log in self._station.log),
        )


def _covers(station: Station, path: str, log: str) -> bool:
    """Whether a log that was read belongs to a [[log]] path."""
    return covers(station.folder, path, log)
