"""When an incident speaks: one notice, reminders at doubling intervals, one when it clears; quiet hours; the morning
digest. Pure.
"""

from dataclasses import dataclass, replace
from typing import Literal

from server.alerts.incident import AsJson
from server.alerts.limits import MINUTE, Limits
from shared.zones import HOUR

Kind = Literal["raised", "reminder", "cleared"]
REMIND_URGENT, REMIND = (
    15 * MINUTE,
    4 * HOUR,
)  # the first reminder comes so long after the notice, each next one twice as long after
AFTERGLOW = 30 * MINUTE  # after an incident of the transmitter is over, the shares of the hour before still hold it
COVER_WAIT = 30 * MINUTE  # how long an incident of the transmitter is left to the one that spoke before it
LATE = 5 * MINUTE  # what is said so long after it was due goes into the digest with the others that waited
STALE = HOUR  # what was over longer ago than this when it is first seen waits for the morning
#: Rules that say the same thing of one transmitter: a stuck one sets off all of them, and one notice is enough.
OF_ONE_TRANSMITTER = ("over-runs-on", "duty", "unlike-itself")
#: What is worth a line in the morning, and no notice of its own: nets work a transmitter past a low rating every week.
DIGEST_ONLY = {("duty", "transmitter/rating")}
#: What is told once, in the morning, and stands open: it took a week to be sure of it.
ONCE = {"reception"}


@dataclass(frozen=True)
class State(AsJson):
    """An incident, and how far it was told of. Instants are microseconds."""

    id: int
    rule: str
    subject: str
    raised: int
    cleared: int | None
    urgent: bool
    says: str
    acknowledged_us: int | None = None
    told_us: int | None = None
    told_end: bool = False  #: nothing more is to be said of it
    reminders: int = 0
    next_us: int | None = None  #: when it speaks next: its first notice, where that waits, or a reminder
    began: int | None = None  #: when what it is about began, where that was before it was raised


@dataclass(frozen=True)
class Spoken:
    """What is to be said now of one incident, and its state after that; `digest`: together with the others that
    waited.
    """

    kind: Kind
    state: State
    digest: bool = False


def speak(states: list[State], now: int, limits: Limits) -> tuple[list[Spoken], list[State]]:
    """What is said at an instant, and every state that changes, those of what is said among them."""
    quiet = limits.quiet_at(now)
    covering = any(_covers(one, now) for one in states)
    spoken: list[Spoken] = []
    changed: list[State] = []
    for state in sorted((one for one in states if one.cleared is None or not one.told_end), key=_order):
        said, after = _next_word(state, now, quiet, covering, limits)
        if said:
            spoken.append(said)
            covering = covering or _covers(after, now)
        if after != state:
            changed.append(after)
    return spoken, changed


def _next_word(state: State, now: int, quiet: bool, covering: bool, limits: Limits) -> tuple[Spoken | None, State]:
    if state.told_us is None:
        return _first_notice(state, now, quiet, covering, limits)
    return _reminder(state, now, quiet) if state.cleared is None else _clearing(state, now, quiet)


def _order(state: State) -> tuple[int, int]:
    """An over that runs on speaks before what follows from it."""
    return (OF_ONE_TRANSMITTER.index(state.rule) if state.rule in OF_ONE_TRANSMITTER else 9, state.raised)


def _covers(state: State, now: int) -> bool:
    """Whether the keeper was told of a transmitter in trouble, it is or just was so, and it was not taken note of as
    something else.
    """
    fresh = state.cleared is None or now - state.cleared < AFTERGLOW
    return (
        fresh
        and state.told_us is not None
        and state.acknowledged_us is None
        and state.urgent
        and state.rule in OF_ONE_TRANSMITTER
    )


def _first_notice(state: State, now: int, quiet: bool, covering: bool, limits: Limits) -> tuple[Spoken | None, State]:
    covered = covering and state.rule in OF_ONE_TRANSMITTER[1:]
    if _needs_no_notice(state, covered):
        return None, replace(state, told_end=state.cleared is not None, next_us=None)
    if state.next_us is not None and now < state.next_us:
        return None, state
    if _waits_for_morning(state, now, quiet):
        return None, replace(state, next_us=limits.morning_after(now))
    if covered:
        return None, replace(state, next_us=now + COVER_WAIT)
    reminds = None if state.cleared is not None else now + _first_reminder(state)
    after = replace(state, told_us=now, told_end=state.told_end or state.cleared is not None, next_us=reminds)
    return Spoken("raised", after, _can_wait(state, now) and state.next_us is not None), after


def _waits_for_morning(state: State, now: int, quiet: bool) -> bool:
    return state.next_us is None and _can_wait(state, now) and (quiet or state.urgent or _digest_only(state))


def _can_wait(state: State, now: int) -> bool:
    """Whether nobody needs to be woken: it is not urgent, or was over long ago when it was first seen."""
    return not state.urgent or (state.cleared is not None and now - state.cleared > STALE)


def _needs_no_notice(state: State, covered: bool) -> bool:
    """The keeper knows of it, or it is over and another one spoke for it."""
    if state.acknowledged_us is not None:
        return True
    if state.cleared is None:
        return False
    # It was left to another one, and was over before its turn came.
    left = state.urgent and state.next_us is not None and state.next_us - state.cleared <= COVER_WAIT
    return covered or left


def _clearing(state: State, now: int, quiet: bool) -> tuple[Spoken | None, State]:
    if quiet and not state.urgent:
        return None, state
    after = replace(state, told_end=True, next_us=None)
    if _digest_only(state):
        return None, after
    return Spoken("cleared", after, now - (state.cleared or now) > LATE), after


def _reminder(state: State, now: int, quiet: bool) -> tuple[Spoken | None, State]:
    due = (
        state.next_us is not None and state.next_us <= now and state.acknowledged_us is None and not _digest_only(state)
    )
    if not due or (quiet and not state.urgent):
        return None, state
    count = state.reminders + 1
    after = replace(state, reminders=count, next_us=now + (_first_reminder(state) << count))
    return Spoken("reminder", after, now - (state.next_us or now) > LATE), after


def _first_reminder(state: State) -> int:
    return REMIND_URGENT if state.urgent else REMIND


def _digest_only(state: State) -> bool:
    return (state.rule, state.subject) in DIGEST_ONLY or state.rule in ONCE
