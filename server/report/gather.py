"""From the store to a Month: asks for each part once, and keeps out of it what could tell of a person."""

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from server.alerts.states import OF_ONE_TRANSMITTER
from server.analytics import talk
from server.analytics.activity import Activity, Window, in_window
from server.analytics.compare import CHANNEL, Change, Past, compare
from server.analytics.dayhour import day_hour_map
from server.analytics.exposure import exposure
from server.analytics.figure_types import Channel, Figures, Mode, Stretch
from server.analytics.hour_tallies import Reckoning, make_missing
from server.analytics.link_load import load_links
from server.analytics.overruns import Overrun, finished_overruns
from server.analytics.shorter_hold import shorter_hold
from server.config import Station
from server.report.annex import radiator_of
from server.report.links import named_links
from server.report.month import (
    TREND,
    Completeness,
    Incident,
    Month,
    MonthSums,
    SiteNote,
    months_before,
)
from server.report.privacy import may_be_somebody, settable, without_people, without_small_groups
from server.report.recorded import incidents_of
from server.report.seen import first_and_last
from server.store.engine import Store, reading
from server.store.notes import TEXT_LIMIT, notes
from server.store.tallies import airtime_overs_and_seen
from server.telling.period import WideTalk
from server.telling.targets import TargetNames
from shared import spans as sp
from shared.events import MODES
from shared.timers import Timers
from shared.zones import SECOND, month_window

Bounds = tuple[int, int] | None  #: instants of the first and the last line of any log
Tallied = dict[str, tuple[int, int, int]]  #: by mode: airtime, overs and time seen, microseconds
RECORD = 13  #: months before that a month is compared with


def month_of(engine: Store, station: Station, name: str, activity: Activity, figures: Figures, now: int) -> Month:
    """The month named (2026-10) of a store, with its activity and figures. Raises StoreError, ValueError for a name
    that is no month.
    """
    zone, timers = station.zone, station.timers_for_figures()
    window = start, end = month_window(name, zone)
    with reading(engine) as connection:
        bounds = first_and_last(connection, end)
        stretch = Stretch(start, end, zone, sp.length(sp.clip(activity.blind, start, end)) / SECOND)
        links = load_links(connection, stretch, activity.blind, bounds[1] if bounds else start)
    incidents, watched = incidents_of(engine, station, start, end, now)
    over = now >= end or (bounds is not None and bounds[1] >= end)
    elapsed = figures.window.end_us - start  # what has not happened yet is neither seen nor blind
    blind, seen = sp.clip(activity.blind, start, end), activity.seen((start, start + elapsed))
    map_ = day_hour_map(activity.on_air, window, zone, blind)
    before = _sums_before(engine, station, timers, name, bounds)
    this = _this_month(name, figures, sp.length(seen) / elapsed)
    own, people, names = station.repeater.callsign, activity.stations, TargetNames(station.target)
    return Month(
        name=name,
        callsign=settable(own),
        place=settable(station.repeater.name),
        zone=zone,
        start=start,
        end=end,
        figures=without_small_groups(figures),
        trend=(*reversed(before[: TREND - 1]), this),
        changes=_changes(this, before if over else []),
        days=map_.days,
        hours=tuple(
            tuple(None if np.isnan(value) else round(float(value), 6) for value in row) for row in map_.seconds
        ),
        links=named_links(links.links, people, own, names),
        wide=_wide_talk(activity, timers, station, window, people),
        incidents=tuple(_safe(one, people, own, names) for one in incidents),
        watched=watched,
        completeness=Completeness(sp.length(seen) / elapsed, over),
        shorter_hold=shorter_hold(activity, window, timers, zone, seen),
        timers=timers,
        duty_rating=station.transmitter.duty_rating,
        overruns=_overruns(activity, window, round((timers.timeout_s + station.alerts.grace_s) * SECOND), incidents),
        grace_s=station.alerts.grace_s,
        notes=_notes(engine, window, people, own),
        exposure=exposure(figures.window, figures.duty, radiator_of(station)) if station.report.exposure else None,
    )


def _notes(engine: Store, window: Window, people: Collection[str], own: str) -> tuple[SiteNote, ...]:
    """Those of the month that the keeper wants the committee to read."""
    found = [one for one in notes(engine) if one.for_committee and window[0] <= one.at_us < window[1]]
    return tuple(
        SiteNote(one.at_us, one.kind, settable(without_people(one.text, people, own), TEXT_LIMIT)) for one in found
    )


def _overruns(
    activity: Activity, window: tuple[int, int], limit: int, incidents: Sequence[Incident]
) -> tuple[Overrun, ...]:
    """Overs of the window longer than `limit`, the longest first; then those that have no end, of which only an
    incident tells.
    """
    finished = finished_overruns(activity, window, limit)

    def is_lost(incident: Incident) -> bool:
        began = incident.raised - limit
        if incident.rule != OF_ONE_TRANSMITTER[0] or not window[0] <= began < window[1]:
            return False
        return not any(
            over.start_us <= incident.raised <= over.start_us + (over.seconds or 0.0) * SECOND for over in finished
        )

    return (*finished, *(Overrun(_mode_of(one), one.raised - limit, None) for one in incidents if is_lost(one)))


def _mode_of(incident: Incident) -> str | None:
    mode = incident.subject.partition("/")[0]
    return mode if mode in MODES else None


def _logged(bounds: Bounds, start: int, end: int) -> sp.Spans:
    return sp.clip(sp.spans([bounds[0]], [bounds[1] + 1]), start, end) if bounds else sp.NONE


def _this_month(name: str, figures: Figures, seen: float) -> MonthSums:
    parts: dict[str, Channel | Mode] = {CHANNEL: figures.channel, **figures.modes}
    return MonthSums(
        name,
        seen,
        {mode: its.airtime_s or 0.0 for mode, its in parts.items()},
        {mode: its.overs or 0 for mode, its in parts.items()},
    )


def _sums_before(engine: Store, station: Station, timers: Timers, name: str, bounds: Bounds) -> list[MonthSums]:
    """The months before, the nearest first, from the hour tallies; a month that no log reaches into was not seen."""
    windows = {month: month_window(month, station.zone) for month in months_before(name, RECORD)}
    logged = {month: _logged(bounds, *window) for month, window in windows.items()}
    known = [month for month in windows if len(logged[month])]
    sums: dict[str, Tallied] = {}
    if known:
        reckoning = Reckoning(timers, station.zone, station.names_of_ids(), station.timers.quiet_log_s)
        make_missing(engine, reckoning, windows[known[-1]][0], windows[known[0]][1])
        with reading(engine) as connection:
            sums = {month: airtime_overs_and_seen(connection, *windows[month]) for month in known}
    return [_month_sums(month, *window, sums.get(month, {})) for month, window in windows.items()]


def _month_sums(name: str, start: int, end: int, tallied: Tallied) -> MonthSums:
    return MonthSums(
        name,
        tallied[CHANNEL][2] / (end - start) if CHANNEL in tallied else 0.0,
        {mode: airtime / SECOND for mode, (airtime, _, _) in tallied.items()},
        {mode: overs for mode, (_, overs, _) in tallied.items()},
    )


def _changes(this: MonthSums, before: Sequence[MonthSums]) -> dict[str, Change]:
    modes = {mode for month in (this, *before[:RECORD]) for mode, airtime in month.airtime_s.items() if airtime}
    return {
        mode: compare(
            Past(this.airtime_s.get(mode, 0.0), this.seen),
            [Past(past.airtime_s.get(mode, 0.0), past.seen) for past in before],
        )
        for mode in [CHANNEL, *(mode for mode in MODES if mode in modes)]
    }


def _wide_talk(
    activity: Activity, timers: Timers, station: Station, window: tuple[int, int], people: Collection[str]
) -> tuple[WideTalk, ...]:
    """Local talk on each wide target, most first; targets whose name may be somebody's go together."""
    spoken = talk.conversations(activity.overs)
    local = talk.local_on_wide(activity, spoken, timers)
    names = TargetNames(station.target)
    found: dict[tuple[str | None, str], tuple[int, float]] = {}
    pairs = sorted(
        {(int(mode), int(target)) for mode, target in zip(spoken.mode[local], spoken.target[local], strict=True)}
    )
    for mode, target in pairs:
        mine = local & (spoken.mode == mode) & (spoken.target == target)
        name, word = activity.targets[target], MODES[mode] if mode >= 0 else None
        label = names.of_target(word, name)
        shown = "other targets" if may_be_somebody(label, people, station.repeater.callsign) else settable(label)
        count, seconds = found.get((word, shown), (0, 0.0))
        covered = sp.length(sp.clip(talk.airtime_of(activity.overs, spoken, mine), *window)) / SECOND
        found[word, shown] = (count + int((mine & in_window(spoken.start, window)).sum()), seconds + covered)
    rows = [
        WideTalk(word, label, count, seconds) for (word, label), (count, seconds) in found.items() if count or seconds
    ]
    return tuple(sorted(rows, key=lambda row: (-row.seconds, row.label)))


def _safe(incident: Incident, people: Collection[str], own: str, names: TargetNames) -> Incident:
    """An incident whose subject is a mode and slot, or a name that is nobody's."""
    subject = incident.subject
    plain = subject.partition("/")[0] in (*MODES, "transmitter")
    if not plain and ("/" in subject or may_be_somebody(subject, people, own)):  # a path, or somebody
        subject = ""
    return replace(incident, subject=settable(names.of_link(subject)))
