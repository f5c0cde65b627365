"""Confirmed changes of timers, before and after: all that the template gets."""

from dataclasses import dataclass, replace

from server.analytics.before_after import MOST_WEEKS, Change, bounds, compare, daily_attempts, weeks_around
from server.store.timers import NOTE_LIMIT, TimerChange
from server.telling import words
from server.telling.caution import TIMERS
from server.telling.moments import date_words
from server.telling.outside import VisibleText, visible
from server.telling.parts import Fact, Label
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
        found.append(_told(change, date_words(day), step))
    return tuple(found[::-1])


def _told(change: TimerChange, day: str, step: Change | None) -> ChangeLines:
    note, path = visible(change.note), f"/notes/timers-{change.id}"
    if step is None:
        says = (
            f"There are not yet two whole weeks of log on both sides of it to compare; it looks at up to {MOST_WEEKS}."
        )
        return ChangeLines(change.id, day, note, says, (), path)
    low, high = step.interval.low, step.interval.high
    if high < 0:
        says = (
            f"Fewer calls are refused since: {abs(step.step):.1f} a day fewer than the same weekdays and the trend "
            "would have it."
        )
    elif low > 0:
        says = (
            f"More calls are refused since: {step.step:.1f} a day more than the same weekdays and the trend would "
            "have it."
        )
    else:
        says = "No change can be told from chance yet."
    facts = (
        Fact(
            Label("Refused calls before", "refused a day"),
            f"{step.before:.1f} a day",
            f"{words.count(step.weeks, 'whole week')}, as counted",
        ),
        Fact(
            Label("Refused calls after", "refused a day"),
            f"{step.after:.1f} a day",
            f"{words.count(step.weeks, 'whole week')}, as counted",
        ),
        Fact(
            Label("Change at the date", "step"),
            f"{step.step:+.1f} a day estimated".replace("-", "−"),
            "same weekdays, trend taken out",
        ),
        Fact(Label("95 % interval", "step"), f"{low:+.1f} to {high:+.1f} a day".replace("-", "−")),
    )
    return ChangeLines(change.id, day, note, says, facts, path)


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
        changes=tuple(replace(one, figures=frame.to(one.figures)) for one in lines),
        action=frame.to("/sharing/changes"),
        token=token,
        trouble=trouble,
        on=on,
        note=note,
        note_limit=NOTE_LIMIT,
        back=frame.link("Back to Sharing", "/sharing"),
        caution=TIMERS,
    )
