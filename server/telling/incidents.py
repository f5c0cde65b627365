"""What an incident is called, wherever it is told of."""

from collections.abc import Sequence
from typing import Protocol
from zoneinfo import ZoneInfo

from server.telling.checks import TITLES
from server.telling.links import NAMELESS
from server.telling.moments import instant_words, to_the_second
from server.telling.numbers import count, elapsed, exact_duration, whole_number
from server.telling.targets import FLAPPING
from shared.events import MODE_LABELS
from shared.incidents import AnyIncident, Evident, since
from shared.zones import SECOND

DATES = 8  # of one row; more are counted
RATING = ("duty", "transmitter/rating")
BEYOND_RATING = "the transmitter is keyed beyond its rating"


class Leading(Protocol):
    """An incident with those that followed from it."""

    @property
    def followed(self) -> Sequence[AnyIncident]: ...


def title_words(rule: str, subject: str) -> str:
    """`An over runs on`."""
    said = BEYOND_RATING if (rule, subject) == RATING else TITLES.get(rule, rule)
    return said[:1].upper() + said[1:]


def subject_words(subject: str) -> str:
    """`dmr/1` as a person says it: `DMR, slot 1`; nothing for what is about the transmitter as a whole; any other
    subject as it is.
    """
    if subject in ("transmitter", RATING[1]):
        return ""
    if subject in ("air", "link"):
        return f"{subject} side"
    mode, _, slot = subject.partition("/")
    return MODE_LABELS[mode] + (f", slot {slot}" if slot else "") if mode in MODE_LABELS else subject


def whole_title(rule: str, subject: str) -> str:
    """`An over runs on (DMR, slot 1)`."""
    of = "" if rule == "link-down" and subject.removesuffix(FLAPPING) == NAMELESS else subject_words(subject)
    return title_words(rule, subject) + (f" ({of})" if of else "")


def followed_words(followed: Sequence[AnyIncident], zone: ZoneInfo) -> str:
    """What followed from an incident, in a sentence; empty where nothing did."""
    by_title: dict[str, list[AnyIncident]] = {}
    for one in followed:
        by_title.setdefault(title_words(one.rule, one.subject), []).append(one)
    said = []
    for title, mine in by_title.items():
        when = (
            f", from {instant_words(mine[0].raised, zone)}" if len(mine) == 1 else f" ({whole_number(len(mine))} times)"
        )
        said.append(f"{title[0].lower()}{title[1:]}{when}")
    return f"With it: {'; '.join(said)}." if said else ""


def counted_words(incidents: Sequence[Leading]) -> str:
    """`22 incidents, and 5 more alerts with them`: what followed from an incident is counted apart."""
    followed = sum(len(one.followed) for one in incidents)
    with_them = (
        f", and {count(followed, 'more alert')} with {'it' if len(incidents) == 1 else 'them'}" if followed else ""
    )
    return f"{count(len(incidents), 'incident')}{with_them}"


def dates_words(incidents: Sequence[AnyIncident], zone: ZoneInfo) -> str:
    """When each of like incidents was raised, as they stand in the list: `3 times: Tue 3 Nov, 19:10; ...`."""
    dates = [instant_words(one.raised, zone) for one in incidents[:DATES]]
    if len(incidents) == 1:
        return dates[0]
    more = len(incidents) - len(dates)
    return f"{whole_number(len(incidents))} times: {'; '.join(dates)}" + (
        f"; and {whole_number(more)} more" if more else ""
    )


def lasted_words(incidents: Sequence[AnyIncident]) -> str:
    """`for 3 h`, `for 4 min to 3 h`, `still going on`."""
    lengths = sorted((one.cleared - since(one)) / SECOND for one in incidents if one.cleared is not None)
    if not lengths:
        return "still going on"
    shortest, longest = elapsed(lengths[0]), elapsed(lengths[-1])
    return f"for {longest}" if shortest == longest else f"for {shortest} to {longest}"


def incident_lines(incident: Evident, zone: ZoneInfo, number: int | None = None, *, noted: bool = False) -> str:
    """An incident on a terminal; with its number, where it is on record, and whether the keeper took note of it."""
    until = "still so" if incident.cleared is None else f"for {exact_duration(incident.cleared - since(incident))}"
    title = f"{whole_title(incident.rule, incident.subject)} [{incident.rule}]"
    urgent = "urgent, " if incident.urgent else ""
    opening = "" if number is None else f"{number:>4} "
    when = to_the_second(incident.raised, zone)
    return f"{opening}{when}  {title}, {urgent}{until}{', noted' if noted else ''}\n     {incident.says}"


def incident_row(
    leads: Sequence[AnyIncident], followed: Sequence[AnyIncident], zone: ZoneInfo
) -> tuple[str, str, str, str]:
    """Like incidents as cells of a table: what, of what, when, and for how long."""
    first = leads[0]
    what, with_them = title_words(first.rule, first.subject), followed_words(followed, zone)
    if with_them:
        what = f"{what}. {with_them}"
    lasted = lasted_words(leads).removeprefix("for ")
    return what, subject_words(first.subject) or "transmitter", dates_words(leads, zone), lasted
