"""The Sharing page: all that its template gets."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from server.analytics import traffic
from server.analytics.airtime import stream_airtime
from server.analytics.channel_share import Sharing, channel_share
from server.analytics.figure_types import Figures
from server.telling import sharing_tables as tables
from server.telling import words
from server.telling.findings import shut_out_sentence
from server.telling.modes import mode_name
from server.telling.moments import edges_words, month_words
from server.telling.overruns import holds_best
from server.telling.parts import Fact, Label, Table
from server.telling.sentences import Sentence, Text, say
from server.telling.shut_outs import blocked_matrix
from server.telling.traffic import carried_table
from server.web.cell_map import CellMap, hour_map
from server.web.frame import Frame
from server.web.moment.links import Happenings, shut_outs_one_by_one
from server.web.notes.marks import NotesShown, notes_of, notes_shown
from server.web.sharing.window import Stretch, months_before
from server.web.shell import Link, Shell
from server.web.source import Source
from shared import spans as sp
from shared.events import MODE_LABELS, MODES
from shared.zones import SECOND

MONTHS = 6
GAPS_TOLD = 0.005  # share of the days
RISK_SCALES = {900: f"25{words.GAP}%", 1800: f"50{words.GAP}%", 3600: f"100{words.GAP}%", 7200: f"200{words.GAP}%"}


@dataclass(frozen=True)
class SlotLines:
    """The slots of one mode."""

    label: Label
    facts: tuple[Fact, ...]


@dataclass(frozen=True)
class SharingView:
    """What sharing.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    dates: str  #: the days looked at
    first: str  #: first day, for the form
    last: str  #: last day, for the form
    action: str  #: where the form of days goes
    headline: Sentence  #: who waits for whom, in a sentence
    partly: str  #: from when or until when the log covers these days, "" where it covers them all
    onward: tuple[Link, ...]  #: to replay, changes, planning and the sheet for users
    known: bool  #: whether anything was heard in these days
    matrix: Table  #: who blocked whom
    refused: Happenings  #: shut-outs one by one
    notes: NotesShown  #: what was done at the station in these days
    held: Table  #: held, on the air, silent
    chances: Table  #: shut-out risk beside the counted, by mode
    risk_map: CellMap | None  #: risk by mode and hour
    chance_hours: tuple[Table, ...]  #: the same in numbers, a table a mode
    slots: tuple[SlotLines, ...]  #: balance of slots
    carried: Table  #: traffic by mode
    losses: Table  #: Erlang B beside the measured
    busy: Table  #: busy hour by month
    by_target: Table  #: talk by target
    by_hour: Table  #: talk by hour
    courtesy: str  #: the courtesy gap


def sharing_view(source: Source, stretch: Stretch, frame: Frame) -> SharingView:
    station, (start, end) = source.station(), stretch.window
    figures, activity = source.figures(*stretch.window), source.activity(*stretch.window)
    sharing = channel_share(activity, stretch.window, station.timers, station.zone)
    return SharingView(
        shell=frame.shell("Sharing", "/sharing"),
        dates=stretch.words,
        first=str(stretch.first),
        last=str(stretch.last),
        action=frame.to("/sharing"),
        headline=_headline(figures),
        partly=_partly(source, activity.blind, start, end),
        onward=(
            frame.link("Try other timers", f"/sharing/replay?{stretch.query}"),
            frame.link("Before and after a change", "/sharing/changes"),
            frame.link("Plan a mode’s hours", f"/sharing/planning?{stretch.query}"),
            frame.link("A sheet for users", "/handout"),
        ),
        known=bool(sharing.held),
        matrix=blocked_matrix(figures),
        refused=shut_outs_one_by_one(activity, stretch.window, frame),
        notes=notes_shown(notes_of(source, *stretch.window), frame),
        held=tables.held_table(sharing.held),
        chances=tables.chance_table(sharing, figures),
        risk_map=_risk_map(sharing),
        chance_hours=tuple(tables.chance_hours(mode, chances, figures) for mode, chances in sharing.chances.items()),
        slots=tuple(
            SlotLines(mode_name(MODES[mode]), tables.slot_facts(slots)) for mode, slots in sharing.slots.items()
        ),
        carried=carried_table(figures),
        losses=tables.loss_table(sharing),
        busy=tables.busy_table(_busy_hours(source, stretch)),
        by_target=tables.talk_by_target(sharing, activity.targets, station.names, bool(station.timers.wide)),
        by_hour=tables.talk_by_hour(sharing, bool(station.timers.wide)),
        courtesy=words.duration(station.timers.courtesy_gap_s),
    )


def _partly(source: Source, blind: sp.Spans, start: int, end: int) -> str:
    """Where the log begins, stops or has gaps within the days."""
    known, now, zone = source.first_and_last(), source.now(), source.station().zone
    edges = edges_words(known, start, min(end, now), zone, over=end <= now)
    if known is None:
        return edges
    within = (max(start, known[0]), min(end, known[1]))
    unseen = sp.length(sp.clip(blind, *within)) if within[0] < within[1] else 0
    if unseen < GAPS_TOLD * (end - start):
        return edges
    gaps = f"Within these days, {words.about(unseen / SECOND)} had no log, and are left out of the percentages."
    return f"{edges} {gaps}".strip()


def _headline(figures: Figures) -> Sentence:
    rows = figures.shut_outs
    if rows is None:
        return say("Nothing is known of these days: no log tells of them.")
    sentence = shut_out_sentence(figures)
    if not rows or rows[0].mean_wait_s is None or not holds_best([row.attempts for row in rows]):
        return sentence
    return (*sentence, Text(f" These would have waited {words.duration(rows[0].mean_wait_s)} on average."))


def _risk_map(sharing: Sharing) -> CellMap | None:
    if not sharing.chances:
        return None
    risk = np.array(
        [
            [np.nan if (value := one.risk) is None else value for one in chances[:24]]
            for chances in sharing.chances.values()
        ],
        dtype=np.float64,
    )
    return hour_map(risk * 3600, [MODE_LABELS[MODES[mode]] for mode in sharing.chances], RISK_SCALES)


def _busy_hours(source: Source, stretch: Stretch) -> Sequence[tuple[str, traffic.BusyHour]]:
    """The busy hour of the months up to the one with the last day; a month that is not over counts its whole days so
    far.
    """
    known, zone = source.first_and_last(), source.station().zone
    found = []
    for first, start, end in months_before(stretch, MONTHS):
        if known is None or end <= known[0] or start > known[1]:
            continue
        window = (start, min(end, source.now()))
        activity = source.activity(*window)
        found.append(
            (
                month_words(first),
                traffic.busy_hour(stream_airtime(activity.sent).values(), window, zone, activity.blind),
            )
        )
    return found
