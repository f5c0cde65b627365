"""The evidence of an incident: what its alert says. Plain sentences, local times, and never who was on. Lengths and
instants are microseconds, shares 0 to 1.
"""

import datetime as dt
from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from server.analytics.reception_changes import Change
from server.telling.links import the_link
from server.telling.moments import to_the_second
from server.telling.numbers import GAP, exact_duration, near_whole
from server.telling.reception import change_words, date_words
from shared.events import MODE_LABELS
from shared.numbers import grouped

Turns = Literal["taken", "not taken", "not logged"]
NO_TURNS = {"not taken": "stations hardly took turns", "not logged": "whether stations took turns is not logged"}


@dataclass(frozen=True)
class Span:
    """The stretch before an instant that a share is of."""

    at: int
    width: int
    zone: ZoneInfo
    unended: int | None = None  #: when the first over in it began that had no end in the log then

    @property
    def when(self) -> str:
        return to_the_second(self.at, self.zone)

    @property
    def given(self) -> str:
        """How a sentence begins where an over had no end in the log yet: no share may be told of it."""
        assert self.unended is not None
        first = to_the_second(self.unended, self.zone)
        return f"If the over that began at {first}, and had no end in the log, went on"


def filled(span: Span, share: float, limit: float, turns: Turns, *, quiet: bool) -> str:
    """Overs filled more of a stretch than the limit; `quiet`: the limit is that of the quiet hours."""
    before = exact_duration(span.width)
    if span.unended is not None:
        opening = f"{span.given}, overs filled more of the {before} before {span.when} than is allowed"
    else:
        opening = f"Overs filled {near_whole(share)} of the {before} before {span.when}"
    if turns == "taken":
        return f"{opening}, though stations took turns; the limit where they do is {near_whole(limit)}."
    hours = "in the quiet hours" if quiet else "by day"
    return f"{opening}, and {NO_TURNS[turns]}; the limit {hours} is {near_whole(limit)}."


def beyond_rating(span: Span, share: float, rating: float) -> str:
    """The transmitter was keyed for more of an hour than it is rated for."""
    rated = near_whole(rating)
    if span.unended is not None:
        keyed = f"the transmitter was keyed for more of the hour before {span.when}"
        return f"{span.given}, {keyed} than the {rated} it is rated for."
    told = near_whole(share)
    above = f"just over {told}" if told == rated else told  # it must not read like the limit itself
    return f"The transmitter was keyed for {above} of the hour before {span.when}; it is rated for {rated}."


def far_above_usual(span: Span, share: float, usual: float, *, in_turns: bool) -> str:
    """The transmitter was keyed for far more of an hour than is usual then."""
    if span.unended is not None:
        keyed = f"the transmitter was keyed for far more of the hour before {span.when}"
        return f"{span.given}, {keyed} than the {near_whole(usual)} that is usual at the most at this hour of the week."
    who = "people are taking turns" if in_turns else "hardly anyone was taking turns"
    return (
        f"The transmitter was keyed for {near_whole(share)} of the hour before {span.when}; at this hour of the week it"
        f" is usually no more than {near_whole(usual)}, and {who}."
    )


def short_keyings(count: int, shorter_than_s: float, side: str, at: int, zone: ZoneInfo) -> str:
    cause = "a link that flaps" if side == "link" else "interference, most likely"
    return (
        f"{grouped(count)} keyings of less than {shorter_than_s:g} s, or signals that were never decoded, came from the"
        f" {side} side in the hour before {to_the_second(at, zone)}: {cause}."
    )


@dataclass(frozen=True)
class LongOver:
    """An over that ran on, as it was known at an instant."""

    mode: str | None
    slot: int
    start: int
    end: int | None  #: None where its end is not logged
    told: int | None  #: when the line that tells of its end, or the next one about it, was written; None: not yet
    whole: bool  #: the log told of it at its end only


def over_words(mode: str | None, slot: int) -> str:
    """`A DMR over in slot 1`, `A D-STAR over`, `An over`."""
    if mode is None:
        return "An over"
    label = MODE_LABELS[mode]
    return f"{'An' if label[0] in 'FNM' else 'A'} {label} over" + (f" in slot {slot}" if slot else "")


def ran_on(over: LongOver, timeout: int, grace: int, told_apart: int, zone: ZoneInfo) -> str:
    """What is known of an over that ran on. Where the line of its end came more than `told_apart` after its end, the
    host has another length than the log's stamps.
    """
    begun = f"{over_words(over.mode, over.slot)} that began at {to_the_second(over.start, zone)}"
    limit = (
        f"the limit is {exact_duration(timeout + grace)}: the time-out of {exact_duration(timeout)}"
        f" and {exact_duration(grace)} of grace."
    )
    return f"{begun} {_length_words(over)}; {limit} {_end_words(over, told_apart, zone)}".strip()


def _length_words(over: LongOver) -> str:
    if over.whole and over.end is not None:
        return f"had run for {exact_duration(over.end - over.start)} when the log told of it"
    if over.told is None or over.end is None:
        return "ran on"
    return f"ran on for {exact_duration(over.told - over.start)}"


def _end_words(over: LongOver, told_apart: int, zone: ZoneInfo) -> str:
    if over.told is None:
        return "Its end is not logged: it still goes on, or the line is missing."
    when = to_the_second(over.told, zone)
    if over.end is None:
        return (
            f"Its end is not logged; the next line about it came at {when}. Whether it went on until then is not known."
        )
    if over.whole:
        return ""
    if over.told - over.end > told_apart:
        return (
            f"Its end was logged at {when}; by the host's own count it lasted {exact_duration(over.end - over.start)}."
        )
    return f"It ended at {when}."


def another_ran_on(says: str, over_by: int | None, zone: ZoneInfo) -> str:
    """What an incident says where another over ran on meanwhile; `over_by`: when the last one was over."""
    last = "still goes on, or its end is missing" if over_by is None else f"was over by {to_the_second(over_by, zone)}"
    return f"{says} Another that ran on meanwhile {last}."


def no_line(log: str, since: int, limit: int, zone: ZoneInfo) -> str:
    return (
        f"No line has been written to {log} since {to_the_second(since, zone)};"
        f" so long a silence (over {exact_duration(limit)}) is rare here."
    )


def no_over(since: int, limit: int, zone: ZoneInfo) -> str:
    return (
        f"No over has been received by radio since {to_the_second(since, zone)}; so long a silence (over"
        f" {exact_duration(limit)}) is rare here: the receiver or its antenna may have a fault."
    )


def host_stopped(log: str, down: int, up: int | None, zone: ZoneInfo) -> str:
    then = "has not started again" if up is None else f"started again after {exact_duration(up - down)}"
    return f"The host of {log} was stopped at {to_the_second(down, zone)} and {then}."


def link_lost(name: str, down: int, up: int | None, zone: ZoneInfo) -> str:
    lost_at = to_the_second(down, zone)
    if up is None:
        return f"{the_link(name)} has been down since {lost_at}."
    return f"{the_link(name)} was down from {lost_at} for {exact_duration(up - down)}."


def link_flapped(name: str, times: int, at: int, zone: ZoneInfo) -> str:
    return f"{the_link(name)} was lost {grouped(times)} times in the hour before {to_the_second(at, zone)}."


def reception_changed(change: Change, morning: dt.date) -> str:
    """As it was known on a morning: later days make the size surer, and the Reception page tells that."""
    said = change_words(change).replace(GAP, " ").removesuffix(".")
    return f"{said}, as known on {date_words(morning)}. The Reception page has the present figure."


def many_unread(unread: int, lines: int, at: int, zone: ZoneInfo) -> str:
    return (
        f"{grouped(unread)} of the {grouped(lines)} lines of the hour before"
        f" {to_the_second(at, zone)} could not be read: what they tell is missing."
    )


def none_understood(log: str, unread: int) -> str:
    return (
        f"Not one of the {grouped(unread)} lines of {log} could be read: what they tell is missing. "
        "Its dialect may be another host's."
    )


def disk_full(free_bytes: int, at: int, zone: ZoneInfo) -> str:
    return (
        f"At {to_the_second(at, zone)} the store's disk had {free_bytes >> 20:,} MB left: make room, or nothing"
        " more can be kept."
    )


def clock_set(jump: int, at: int, zone: ZoneInfo) -> str:
    """`jump`: by how much, forward or (below 0) back."""
    way = "forward" if jump > 0 else "back"
    return (
        f"The clock of this machine was set {way} by {exact_duration(abs(jump))} before {to_the_second(at, zone)}:"
        " times around it are not to be trusted."
    )


def stamps_ahead(ahead: int, at: int, zone: ZoneInfo) -> str:
    return (
        f"At {to_the_second(at, zone)} lines were stamped {exact_duration(ahead)} ahead of this machine's clock: check"
        " both clocks and the zones."
    )
