"""The rule about an over that runs on. A pure function, as those in server.alerts.rules."""

from dataclasses import replace

import numpy as np

from server.alerts import words
from server.alerts.found import Found, Open
from server.alerts.history import PAGE, History
from server.alerts.limits import Limits
from server.analytics.activity import Ints
from shared.zones import SECOND

TOLD_APART = 2 * SECOND  # between an over's end and the line that tells it: the host's length is another one then


def over_runs_on(history: History, nows: Ints, limits: Limits, open_now: Open) -> list[Found]:
    """Overs open longer than time-out + grace: raised at that instant, cleared when their end is written, however long
    they turn out then; those of one subject that overlap are one incident. An over that was written at its end only is
    raised and cleared there.
    """
    now = int(nows[-1])
    due = history.start + limits.timeout + limits.grace
    raised = np.where(history.whole, history.end, due)
    found = []
    for place in np.flatnonzero((history.told > due) & (raised <= now) & (history.side != PAGE)).tolist():
        told = int(history.told[place])
        subject = words.subject(int(history.mode[place]), int(history.slot[place]))
        says, began = _ran_on(history, place, now, limits), int(history.start[place])
        found.append(
            Found("over-runs-on", subject, int(raised[place]), told if told <= now else None, True, says, began)
        )
    return _merged(found, limits)


def _ran_on(history: History, place: int, now: int, limits: Limits) -> str:
    """What is known at an instant of an over that ran on."""
    start, end, told = (int(column[place]) for column in (history.start, history.end, history.told))
    what = words.stream(int(history.mode[place]), int(history.slot[place]))
    says = f"{what} that began at {words.moment(start, limits.zone)}"
    if history.whole[place]:
        says += f" had run for {words.length(end - start)} when the log told of it"
    else:
        says += " ran on"
        if told <= now and not history.lost[place]:
            says += f" for {words.length(told - start)}"
    says += (
        f"; the limit is {words.length(limits.timeout + limits.grace)}: the time-out of {words.length(limits.timeout)}"
        f" and {words.length(limits.grace)} of grace."
    )
    if told > now:
        return f"{says} Its end is not logged: it still goes on, or the line is missing."
    when = words.moment(told, limits.zone)
    if history.lost[place]:
        return (
            f"{says} Its end is not logged; the next line about it came at {when}. Whether it went on until then is not"
            " known."
        )
    if history.whole[place]:
        return says
    if told - end > TOLD_APART:
        return f"{says} Its end was logged at {when}; by the host's own count it lasted {words.length(end - start)}."
    return f"{says} It ended at {when}."


def _merged(found: list[Found], limits: Limits) -> list[Found]:
    """Incidents of one subject that overlap, as one, which says of the others when the last of them was over."""
    kept: dict[str, list[list[Found]]] = {}
    for one in sorted(found, key=lambda one: one.raised):
        mine = kept.setdefault(one.subject, [])
        if mine and any(other.cleared is None or one.raised <= other.cleared for other in mine[-1]):
            mine[-1].append(one)
        else:
            mine.append([one])
    return [_as_one(group, limits) for mine in kept.values() for group in mine]


def _as_one(group: list[Found], limits: Limits) -> Found:
    lead = group[0]
    ends = [one.cleared for one in group]
    cleared = None if None in ends else max(end for end in ends if end is not None)
    if cleared == lead.cleared:
        return lead
    last = (
        "still goes on, or its end is missing"
        if cleared is None
        else f"was over by {words.moment(cleared, limits.zone)}"
    )
    return replace(lead, cleared=cleared, says=f"{lead.says} Another that ran on meanwhile {last}.")
