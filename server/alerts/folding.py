"""Incidents as they are listed: what followed from an over that runs on is folded into it, and like ones in a row are
one row. Pure.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Generic, TypeVar

from server.alerts.states import OF_ONE_TRANSMITTER
from shared.incidents import AnyIncident, since
from shared.zones import HOUR

One = TypeVar("One", bound=AnyIncident, covariant=True)
Kind = TypeVar("Kind", bound=AnyIncident)


@dataclass(frozen=True)
class Folded(Generic[One]):
    """An incident and what followed from it, in order of raising."""

    lead: One
    followed: tuple[One, ...] = ()


def folded(incidents: Sequence[Kind], before: int) -> list[Folded[Kind]]:
    """Every incident once, oldest first. Into an over that runs on go duty and unlike itself that were raised while it
    went on, or within an hour after it, as their shares still hold it. The silences of one dead host are one: its logs
    and the air side that fell silent within the same hour, and its stop. `before`: how long such an over had gone on
    when it was raised, microseconds.
    """
    ordered = sorted(incidents, key=lambda one: one.raised)
    taken = _of_overruns(ordered, before)
    alone = _without(ordered, taken)
    taken |= _of_dead_hosts([one for one in alone if one.rule == "gone-silent"])
    return [Folded(one, tuple(taken.get(id(one), ()))) for one in _without(ordered, taken)]


def _without(incidents: Sequence[Kind], taken: dict[int, list[Kind]]) -> list[Kind]:
    followers = {id(one) for many in taken.values() for one in many}
    return [one for one in incidents if id(one) not in followers]


def _of_overruns(ordered: Sequence[Kind], before: int) -> dict[int, list[Kind]]:
    """What follows from each over that runs on, by the id of its incident."""
    leads = [one for one in ordered if one.rule == OF_ONE_TRANSMITTER[0]]
    taken: dict[int, list[Kind]] = {}
    for one in ordered:
        lead = _lead_of(one, leads, before)
        if lead is not None:
            taken.setdefault(id(lead), []).append(one)
    return taken


def _lead_of(one: Kind, leads: Sequence[Kind], before: int) -> Kind | None:
    """The over that runs on that an incident follows from."""
    if one.rule not in OF_ONE_TRANSMITTER[1:]:
        return None
    return next((lead for lead in leads if _follows(one, lead, before)), None)


def _of_dead_hosts(silent: Sequence[Kind]) -> dict[int, list[Kind]]:
    """What fell silent within the same hour, by the id of the one that leads: a stop of the host, or else a log, and
    what goes on before what is over. The air side alone tells of a receiver.
    """
    groups: list[list[Kind]] = []
    for one in sorted(silent, key=since):
        if groups and since(one) <= since(groups[-1][0]) + HOUR:
            groups[-1].append(one)
        else:
            groups.append([one])
    found = {}
    for group in groups:
        lead, *others = sorted(group, key=lambda one: (one.cleared is not None, _kind_of_silence(one), one.raised))
        if others:
            found[id(lead)] = sorted(others, key=lambda one: one.raised)
    return found


def _kind_of_silence(one: AnyIncident) -> int:
    return next((place for place, kind in enumerate(("host ", "log ")) if one.subject.startswith(kind)), 2)


def _follows(one: AnyIncident, lead: AnyIncident, before: int) -> bool:
    ended = one.raised if lead.cleared is None else lead.cleared + HOUR
    return lead.raised - before <= one.raised <= ended


def in_rows(incidents: Sequence[Folded[Kind]]) -> list[tuple[Folded[Kind], ...]]:
    """Rows of a list: incidents in a row of one rule and subject, as urgent as each other, stand together; those that
    go on stand alone.
    """

    def kind(one: Folded[Kind]) -> tuple[object, ...]:
        lead = one.lead
        return lead.rule, lead.subject, lead.urgent, bool(one.followed), id(one) if lead.cleared is None else 0

    return [tuple(row) for _, row in groupby(incidents, key=kind)]
