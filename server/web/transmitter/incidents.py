"""The incidents of the Transmitter page: the latest drawn, all of them in a table."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.alerts.folding import Folded, in_rows
from server.alerts.incident import Incident
from server.alerts.limits import Limits
from server.alerts.queries import LookBack
from server.alerts.states import DIGEST_ONLY, State
from server.telling import words
from server.telling.incidents import (
    counted_words,
    dates_words,
    followed_words,
    incident_row,
    lasted_words,
    subject_words,
    title_words,
    whole_title,
)
from server.telling.moments import instant_words
from server.telling.parts import Label, Row, Table
from server.web.definitions import ANCHORS
from server.web.frame import Frame
from server.web.moment.links import incident_moments
from server.web.shell import Link
from server.web.transmitter.charts import Evidence, Strip, strip
from server.web.transmitter.duty import as_far_as_seen

DRAWN = 12  # incidents that are drawn; more are in the table
LISTED = 200


@dataclass(frozen=True)
class IncidentView:
    """One incident, with its evidence drawn."""

    title: str
    subject: str
    anchor: str
    level: str
    when: str
    lasted: str
    says: str
    with_it: str  #: what followed from it
    strip: Strip
    note: Link | None  #: where the keeper takes note of it
    moments: tuple[Link, ...]  #: when it was raised
    remark: str


def drawn_rows(incidents: Sequence[Folded[State | Incident]]) -> list[Sequence[Folded[State | Incident]]]:
    """The latest rows, and one row of those that are a line in the morning only, which can be very many."""
    told = [one for one in incidents if (one.lead.rule, one.lead.subject) not in DIGEST_ONLY]
    lines = [one for one in incidents if (one.lead.rule, one.lead.subject) in DIGEST_ONLY]
    return [*in_rows(told)[:DRAWN], *([tuple(lines)] if lines else [])]


def _lower(title: str) -> str:
    return title[0].lower() + title[1:]


def incidents_headline(
    incidents: Sequence[Folded[State | Incident]], back: LookBack, start: int, now: int, untold: str
) -> str:
    """`untold`: what is said where no line of any log tells anything."""
    if untold:
        return untold
    standing = [one.lead for one in incidents if one.lead.cleared is None]
    if standing:
        return "Open now: " + "; ".join(_lower(whole_title(one.rule, one.subject)) for one in standing[:4]) + "."
    known = (
        "No alert is open now." if back.watched_since is not None else "Nothing is watched, so no alert can be open."
    )
    return f"{known} {_past(incidents, as_far_as_seen(back, start, now))}"


def _past(incidents: Sequence[Folded[State | Incident]], seen: str) -> str:
    """How many there were, all of them over."""
    if not incidents:
        return f"There was no incident in these weeks{seen}."
    urgent = sum(one.lead.urgent for one in incidents)
    if len(incidents) == 1 and not incidents[0].followed:
        return f"There was one incident in these weeks{seen}, {'and it was' if urgent else 'not'} urgent."
    comma = "," if any(one.followed for one in incidents) else ""
    return (
        f"There {words.verb(len(incidents), 'was', 'were')} {counted_words(incidents)}{comma} in these weeks{seen}. "
        f"{words.whole_number(urgent)} {words.verb(urgent, 'was', 'were')} urgent."
    )


def incident_view(
    row: Sequence[Folded[State | Incident]], evidence: Evidence, now: int, limits: Limits, frame: Frame
) -> IncidentView:
    """A row of like incidents, the latest of them drawn."""
    one, several = row[0].lead, [it.lead for it in row]
    note, remark = None, ""
    if not isinstance(one, State):
        remark = "found in the log, not sent"
    elif one.acknowledged_us is not None:
        remark = f"noted {instant_words(one.acknowledged_us, limits.zone)}"
    elif one.cleared is None:
        note = frame.link("Take note: no more reminders", f"/transmitter/note/{one.id}")
    return IncidentView(
        title=title_words(one.rule, one.subject),
        subject=subject_words(one.subject),
        anchor=ANCHORS["duty alert" if one.rule == "duty" else one.rule],
        level="look" if one.urgent else "note",
        when=dates_words(several, limits.zone),
        lasted=lasted_words(several),
        says=one.says,
        with_it=followed_words([other for it in row for other in it.followed], limits.zone),
        strip=strip(evidence, one.raised, one.cleared, now, limits.zone),
        note=note,
        moments=incident_moments(several, frame),
        remark=remark,
    )


def incident_table(incidents: Sequence[Folded[State | Incident]], limits: Limits) -> Table:
    rows = tuple(_incident_row(row, limits) for row in in_rows(incidents)[:LISTED])
    heads = tuple(map(Label, ("Raised", "What", "Of", "Urgent", "Lasted")))
    return Table("All incidents, the latest first", heads, rows, frozenset({0, 1, 2}))


def _incident_row(row: Sequence[Folded[State | Incident]], limits: Limits) -> Row:
    leads = [one.lead for one in row]
    what, of, dates, lasted = incident_row(leads, [other for one in row for other in one.followed], limits.zone)
    return Row(Label(dates), (what, of, "yes" if leads[0].urgent else "no", lasted))
