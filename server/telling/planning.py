"""Mode planning in words: what is asked, what would be lost and gained."""

from server.analytics.planning import FEWEST, Plan
from server.telling import words
from server.telling.parts import Fact, Label
from shared.events import MODE_LABELS


def question(mode: str | None, hours: tuple[int, int] | None) -> str:
    """What is asked: a mode off, or on in some hours only."""
    if mode is None:
        return "No mode was heard in these days."
    name = MODE_LABELS[mode]
    if hours is None:
        return f"If {name} had been switched off"
    if hours[0] == hours[1]:
        return f"If {name} had been on around the clock"
    return f"If {name} had been on from {hours[0]:02d}:00 to {hours[1]:02d}:00 only"


def lost_facts(found: Plan | None) -> tuple[Fact, ...]:
    """What the mode loses; nothing where no plan is known."""
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


def gained_facts(found: Plan | None) -> tuple[Fact, ...]:
    """What the others gain."""
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
