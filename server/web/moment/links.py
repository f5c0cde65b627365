"""Links to moments, for every page that tells of a shut-out, a time-out or an incident."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.analytics.activity import Activity, Window
from server.analytics.happenings import ShutOut, shut_outs_in, timeouts_in
from server.telling.addresses import moment_path
from server.telling.incidents import whole_title
from server.telling.modes import mode_words
from server.telling.moments import instant_words
from server.telling.numbers import count, duration
from server.telling.outside import VisibleText, visible
from server.web.frame import Frame
from server.web.shell import Link
from shared.incidents import AnyIncident
from shared.zones import SECOND

MOST = 12  # of one list: a page on a slow link


@dataclass(frozen=True)
class Happening:
    """One of a list: when it was, with the link to its moment, and what it was."""

    link: Link
    what: tuple[VisibleText, ...]


@dataclass(frozen=True)
class Happenings:
    """Things that happened one by one. Without rows nothing is shown."""

    caption: str
    rows: tuple[Happening, ...]
    more: str = ""  #: how many are left out; empty


def moment_link(frame: Frame, at_us: int, label: str = "That moment", mode: str | None = None) -> Link:
    return frame.link(label, moment_path(at_us, mode))


def incident_moments(incidents: Sequence[AnyIncident], frame: Frame) -> tuple[Link, ...]:
    """Of like incidents in a row, each by its date where there are several."""
    if len(incidents) == 1:
        return (moment_link(frame, incidents[0].raised),)
    return tuple(moment_link(frame, one.raised, instant_words(one.raised, frame.zone)) for one in incidents[:MOST])


def shut_outs_one_by_one(activity: Activity, window: Window, frame: Frame) -> Happenings:
    """The longest waits first."""
    found = sorted(shut_outs_in(activity, window, frame.station.timers), key=lambda one: -(one.wait_s or -1.0))
    rows = [_row(frame, one.at_us, _shut_out(one), one.wanted) for one in found[:MOST]]
    caption = "Each refused call, and its moment" if len(found) <= MOST else "The longest waits, and their moments"
    return Happenings(caption, tuple(rows), _more(len(found), "refused call"))


def timeouts_one_by_one(activity: Activity, window: Window, frame: Frame) -> Happenings:
    """In order of time; the moment is the last second of the over."""
    found = timeouts_in(activity, window, frame.station.timers)
    rows = []
    for one in found[:MOST]:
        slot = f", slot {one.over.slot}" if one.over.slot else ""
        guess = ", estimated from its length" if one.estimated else ""
        rows.append(_row(frame, one.over.end_us - SECOND, f"{mode_words(one.over.mode)}{slot}{guess}"))
    return Happenings("Each time-out, and its moment", tuple(rows), _more(len(found), "time-out"))


def incidents_one_by_one(incidents: Sequence[AnyIncident], frame: Frame) -> Happenings:
    """In order of time; the moment is the one at which it was raised."""
    rows = [_row(frame, one.raised, whole_title(one.rule, one.subject)) for one in incidents[:MOST]]
    return Happenings("Each incident, and its moment", tuple(rows), _more(len(incidents), "incident"))


def _row(frame: Frame, at_us: int, what: str, mode: str | None = None) -> Happening:
    return Happening(moment_link(frame, at_us, instant_words(at_us, frame.zone), mode), visible(what))


def _shut_out(one: ShutOut) -> str:
    holder = mode_words(one.held_by) if one.held_by else "something that the log doesn’t tell"
    wait = "" if one.wait_s is None else f", {duration(one.wait_s)} to wait"
    caller = mode_words(one.wanted) if one.wanted else "an unknown mode"
    return f"{caller} was refused, {holder} held{wait}"


def _more(many: int, noun: str) -> str:
    return f"And {count(many - MOST, f'more {noun}')}." if many > MOST else ""
