"""Confirmed changes of timers, before and after: all that the template gets."""

from dataclasses import dataclass, replace

from server.analytics.before_after import Change, bounds, compare, daily_attempts, weeks_around
from server.store.timers import NOTE_LIMIT, TimerChange
from server.telling.before_after import step_facts, step_sentence
from server.telling.caution import TIMERS
from server.telling.moments import date_words
from server.telling.outside import VisibleText, visible
from server.telling.parts import Fact
from server.web.frame import Frame
from server.web.shell import Link, Shell
from server.web.source import Source
from shared.zones import from_us


@dataclass(frozen=True)
class ChangeLines:
    """One change, and what came of it."""

    number: int
    day: str
    note: tuple[VisibleText, ...]
    says: str
    facts: tuple[Fact, ...]
    figures: str  #: where every figure before and after it stands


@dataclass(frozen=True)
class ChangesView:
    """What sharing_changes.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    changes: tuple[ChangeLines, ...]  #: newest first
    action: str  #: where the form goes
    token: str  #: ties the form to its visitor
    trouble: str  #: why the last entry was not kept; empty
    on: str  #: the day as given
    note: str  #: the note as given
    note_limit: int  #: characters
    back: Link  #: to the Sharing page
    caution: str  #: what comes before any change


def change_lines(source: Source) -> tuple[ChangeLines, ...]:
    """Every change with its comparison, newest first."""
    known, zone = source.first_and_last(), source.station().zone
    changes = source.timer_changes()
    found = []
    for change in changes:
        others = tuple(other.at_us for other in changes if other.at_us != change.at_us)
        weeks = weeks_around(change.at_us, *known, zone, others) if known else 0
        day = from_us(change.at_us, zone).date()
        step = None
        if weeks:
            activity = source.activity(*bounds(day, weeks, zone))
            step = compare(*daily_attempts(activity, day, weeks, zone))
        found.append(_change_lines(change, date_words(day), step))
    return tuple(found[::-1])


def _change_lines(change: TimerChange, day: str, step: Change | None) -> ChangeLines:
    facts = step_facts(step) if step else ()
    return ChangeLines(change.id, day, visible(change.note), step_sentence(step), facts, f"/notes/timers-{change.id}")


def changes_view(
    lines: tuple[ChangeLines, ...],
    frame: Frame,
    token: str,
    trouble: str = "",
    on: str = "",
    note: str = "",
) -> ChangesView:
    return ChangesView(
        shell=frame.shell("Before and after", "/sharing"),
        changes=tuple(replace(line, figures=frame.to(line.figures)) for line in lines),
        action=frame.to("/sharing/changes"),
        token=token,
        trouble=trouble,
        on=on,
        note=note,
        note_limit=NOTE_LIMIT,
        back=frame.link("Back to Sharing", "/sharing"),
        caution=TIMERS,
    )
