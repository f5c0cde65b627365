"""Mode planning as a page: all that its template gets."""

from dataclasses import dataclass

from server.analytics.planning import FEWEST, Plan, plan
from server.analytics.replay import demand
from server.analytics.replay_curves import modes_of
from server.telling import unseen, words
from server.telling.parts import Fact, Label
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
        question=_question(asked, hours) if seen else f"{unseen.DAYS} {unseen.OTHERS}",
        lost=_lost(found),
        gained=_gained(found),
        back=frame.link("Back to Sharing", f"/sharing?{stretch.query}"),
    )


def _modes(heard: list[str], asked: str | None) -> tuple[Choice, ...]:
    """Those that were heard, and the one that is asked for."""
    words = dict.fromkeys([*heard, *([asked] if asked else [])])
    return tuple(Choice(word, MODE_LABELS[word], word == asked) for word in words)


def _hours(chosen: int | None) -> tuple[Choice, ...]:
    return tuple(Choice(str(hour), f"{hour:02d}:00", hour == chosen) for hour in range(24))


def _question(mode: str | None, hours: tuple[int, int] | None) -> str:
    if mode is None:
        return "No mode was heard in these days."
    name = MODE_LABELS[mode]
    if hours is None:
        return f"If {name} had been switched off"
    if hours[0] == hours[1]:
        return f"If {name} had been on around the clock"
    return f"If {name} had been on from {hours[0]:02d}:00 to {hours[1]:02d}:00 only"


def _lost(found: Plan | None) -> tuple[Fact, ...]:
    if found is None:
        return ()
    only_pages = not found.overs and found.airtime_s  # they are from nobody, and in no count of overs

    def stations(number: int | None) -> str:
        if only_pages:
            return words.NONE
        return f"fewer than {FEWEST}" if number is None else words.whole_number(number)

    return (
        Fact(
            Label("Overs", "lost"),
            words.whole_number(found.overs),
            f"{words.whole_number(found.air_overs)} received by radio, {words.whole_number(found.link_overs)} over "
            "links; "
            f"{words.whole_number(found.kept_overs)} in hours that stay on",
        ),
        Fact(Label("Airtime", "lost"), words.duration(found.airtime_s)),
        Fact(
            Label("Hours with talk", "lost"),
            words.NONE if only_pages else words.whole_number(found.used_hours),
            "clock hours in which it was used and would have been off",
        ),
        Fact(Label("Refused calls of its own", "lost"), words.whole_number(found.attempts), "would not have been made"),
        Fact(Label("Stations", "stations that lose it"), stations(found.stations)),
        Fact(
            Label("… heard in nothing else", "stations that lose it"),
            stations(found.stations_only),
            "they lose the repeater altogether",
        ),
    )


def _gained(found: Plan | None) -> tuple[Fact, ...]:
    if found is None:
        return ()
    return (
        Fact(
            Label("Calls spared", "spared by a plan"),
            words.whole_number(found.spared),
            "of other modes, that only this one shut out",
        ),
        Fact(Label("Idle hold freed", "idle hold then"), words.duration(found.idle_hold_s)),
    )
