"""The rule about an over that runs on. A pure function, as those in server.alerts.rules."""

from dataclasses import replace

import numpy as np

from server.alerts.history import PAGE, History
from server.alerts.incident import Incident, Open, mode_subject
from server.alerts.limits import Limits
from server.analytics.activity import Ints
from server.telling.evidence import LongOver, another_ran_on, ran_on
from shared.events import MODES
from shared.zones import SECOND

TOLD_APART = 2 * SECOND  # between an over's end and the line that tells it: the host's length is another one then


def over_runs_on(history: History, nows: Ints, limits: Limits, open_now: Open) -> list[Incident]:
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
        over = _known_at(history, place, now)
        subject = mode_subject(over.mode, over.slot)
        says = ran_on(over, limits.timeout, limits.grace, TOLD_APART, limits.zone)
        found.append(
            Incident("over-runs-on", subject, int(raised[place]), told if told <= now else None, True, says, over.start)
        )
    return _merged(found, limits)


def _known_at(history: History, place: int, now: int) -> LongOver:
    """What is known at an instant of an over that ran on."""
    start, end, told, mode = (int(column[place]) for column in (history.start, history.end, history.told, history.mode))
    ended = told <= now and not history.lost[place]
    return LongOver(
        mode=None if mode < 0 else MODES[mode],
        slot=int(history.slot[place]),
        start=start,
        end=end if ended else None,
        told=told if told <= now else None,
        whole=bool(history.whole[place]),
    )


def _merged(found: list[Incident], limits: Limits) -> list[Incident]:
    """Incidents of one subject that overlap, as one, which says of the others when the last of them was over."""
    kept: dict[str, list[list[Incident]]] = {}
    for one in sorted(found, key=lambda one: one.raised):
        mine = kept.setdefault(one.subject, [])
        if mine and any(other.cleared is None or one.raised <= other.cleared for other in mine[-1]):
            mine[-1].append(one)
        else:
            mine.append([one])
    return [_as_one(group, limits) for mine in kept.values() for group in mine]


def _as_one(group: list[Incident], limits: Limits) -> Incident:
    lead = group[0]
    ends = [one.cleared for one in group]
    cleared = None if None in ends else max(end for end in ends if end is not None)
    if cleared == lead.cleared:
        return lead
    return replace(lead, cleared=cleared, says=another_ran_on(lead.says, cleared, limits.zone))
