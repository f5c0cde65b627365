"""Mode planning as a page: all that its template gets."""

from dataclasses import dataclass

from server.analytics.planning import plan
from server.analytics.replay import demand
from server.analytics.replay_curves import modes_of
from server.telling import unseen
from server.telling.parts import Fact
from server.telling.planning import gained_facts, lost_facts, question
from server.web.frame import Frame
from server.web.sharing.window import Stretch
from server.web.shell import Choice, Link, Shell
from server.web.source import Source
from shared import spans as sp
from shared.events import MODE_LABELS, MODES


@dataclass(frozen=True)
class PlanningView:
    """What sharing_planning.html gets, and nothing else."""

    shell: Shell  #: frame of the page
    dates: str  #: the days looked at
    first: str  #: first day, for the form
    last: str  #: last day, for the form
    action: str  #: where the form goes
    modes: tuple[Choice, ...]  #: modes heard in these days
    begins: tuple[Choice, ...]  #: hours at which it would come on; the first is never
    ends: tuple[Choice, ...]  #: hours at which it would go off
    question: str  #: what is asked
    lost: tuple[Fact, ...]  #: what the mode loses
    gained: tuple[Fact, ...]  #: what the others gain
    back: Link  #: to the Sharing page


def planning_view(
    source: Source, stretch: Stretch, mode: str | None, hours: tuple[int, int] | None, frame: Frame
) -> PlanningView:
    """The plan for a mode word (None: the one with the least airtime of those heard); `hours` are those it would keep,
    None none.
    """
    station, window = source.station(), stretch.window
    activity, timers = source.activity(*window), station.timers
    heard = [MODES[code] for code in modes_of(demand(activity, window, timers))]
    asked = mode or (heard[-1] if heard else None)
    seen = bool(sp.length(activity.seen(window)))
    found = plan(activity, window, timers, station.zone, MODES.index(asked), hours) if asked and seen else None
    return PlanningView(
        shell=frame.shell("Planning", "/sharing"),
        dates=stretch.words,
        first=str(stretch.first),
        last=str(stretch.last),
        action=frame.to("/sharing/planning"),
        modes=_modes(heard, asked),
        begins=(Choice("", "never", hours is None), *_hours(hours and hours[0])),
        ends=_hours(hours[1] if hours else 23),
        question=question(asked, hours) if seen else f"{unseen.DAYS} {unseen.OTHERS}",
        lost=lost_facts(found),
        gained=gained_facts(found),
        back=frame.link("Back to Sharing", f"/sharing?{stretch.query}"),
    )


def _modes(heard: list[str], asked: str | None) -> tuple[Choice, ...]:
    """Those that were heard, and the one that is asked for."""
    words = dict.fromkeys([*heard, *([asked] if asked else [])])
    return tuple(Choice(word, MODE_LABELS[word], word == asked) for word in words)


def _hours(chosen: int | None) -> tuple[Choice, ...]:
    return tuple(Choice(str(hour), f"{hour:02d}:00", hour == chosen) for hour in range(24))
