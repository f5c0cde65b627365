"""The alerts that are open now, kind by kind."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.alerts.folding import Folded, folded
from server.alerts.incident import Incident
from server.alerts.limits import Limits
from server.alerts.queries import Lately
from server.alerts.states import DIGEST_ONLY, State
from server.telling import words
from server.telling.caution import CAREFUL, CAUTION
from server.telling.checks import check
from server.telling.incidents import followed_words, subject_words, title_words
from server.telling.moments import instant_words
from server.telling.numbers import exact_duration
from server.telling.outside import VisibleText, visible
from server.web.definitions import ANCHORS
from server.web.frame import Frame
from server.web.moment.links import moment_link
from server.web.shell import Link
from shared.incidents import since
from shared.zones import SECOND


@dataclass(frozen=True)
class OpenOne:
    """One incident that stands raised."""

    subject: tuple[VisibleText, ...]
    since: str
    says: tuple[VisibleText, ...]
    with_it: str  #: what followed from it
    note: Link | None
    moment: Link


@dataclass(frozen=True)
class Open:
    """What stands raised of one kind, and what to check first."""

    title: str
    anchor: str
    level: str
    ones: tuple[OpenOne, ...]
    check: str


def standing_alerts(lately: Lately, limits: Limits) -> list[Folded[State | Incident]]:
    """What stands raised, but for what is a line in the morning only."""
    incidents = folded(lately.standing, limits.timeout + limits.grace)
    return [incident for incident in incidents if (incident.lead.rule, incident.lead.subject) not in DIGEST_ONLY]


def caution_of(raised: Sequence[Folded[State | Incident]]) -> str:
    """The caution, where any of them is about the transmitter."""
    return CAUTION if any(incident.lead.rule in CAREFUL for incident in raised) else ""


def none_raised(lately: Lately, still: bool, now: int, limits: Limits) -> str:
    if still:
        return "Nothing is watched in a demo, so no alert can be open. What the rules find in its log is below."
    if lately.watched is None:
        return "Nothing is watched yet, so no alert can be open."
    since, until = lately.watched
    return (
        f"No alert is open. The rules were last asked {words.duration(max(0, now - until) / SECOND)} ago; "
        f"they have been asked since {instant_words(since, limits.zone, with_year=True)}."
    )


def open_kinds(raised: Sequence[Folded[State | Incident]], now: int, limits: Limits, frame: Frame) -> tuple[Open, ...]:
    """Kind by kind, the urgent ones first."""
    kinds: dict[tuple[bool, str, str], list[Folded[State | Incident]]] = {}
    for one in raised:
        kinds.setdefault((not one.lead.urgent, title_words(one.lead.rule, one.lead.subject), one.lead.rule), []).append(
            one
        )
    return tuple(
        Open(
            title,
            anchor_of(rule),
            "note" if easy else "look",
            tuple(_open_one(one, now, limits, frame) for one in mine),
            " ".join(dict.fromkeys(check(rule, one.lead.subject) for one in mine)),
        )
        for (easy, title, rule), mine in sorted(kinds.items(), key=lambda item: item[0][0])
    )


def _open_one(one: Folded[State | Incident], now: int, limits: Limits, frame: Frame) -> OpenOne:
    lead = one.lead
    note = None
    if isinstance(lead, State) and lead.acknowledged_us is None:
        note = frame.link("Take note: no more reminders", f"/transmitter/note/{lead.id}")
    return OpenOne(
        subject=visible(subject_words(lead.subject)),
        since=_since_words(lead, now, limits),
        says=visible(lead.says, 600),
        with_it=followed_words(one.followed, limits.zone),
        note=note,
        moment=moment_link(frame, lead.raised),
    )


def _since_words(lead: State | Incident, now: int, limits: Limits) -> str:
    """Since when it is so, and when it was raised, where that was later."""
    began, raised = (instant_words(us, limits.zone) for us in (since(lead), lead.raised))
    later = "" if began == raised else f" Raised at {raised}."
    return f"Since {began}: {exact_duration(max(0, now - since(lead)))} so far.{later}"


def anchor_of(rule: str) -> str:
    return ANCHORS["duty alert" if rule == "duty" else rule]
