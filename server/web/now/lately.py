"""What was raised or cleared in the last seven days, and is over."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.alerts.folding import Folded, folded, in_rows
from server.alerts.incident import Incident
from server.alerts.limits import Limits
from server.alerts.queries import Lately
from server.alerts.states import OF_ONE_TRANSMITTER, State
from server.telling import words
from server.telling.incidents import dates_words, followed_words, lasted_words, subject_words, title_words
from server.telling.outside import VisibleText, visible
from server.web.frame import Frame
from server.web.moment.links import incident_moments
from server.web.now.open import anchor_of
from server.web.shell import Link
from shared.zones import DAY

LATELY = 7 * DAY
ROWS = 12
ALL_SEEN = 0.995
AFTERWARDS = "were found in the log afterwards; no notices were sent."


@dataclass(frozen=True)
class Over:
    """One row of what was raised lately and is over."""

    title: str
    subject: tuple[VisibleText, ...]
    anchor: str
    level: str
    when: str
    lasted: str
    with_it: str
    moments: tuple[Link, ...]


def over_lately(lately: Lately, limits: Limits, frame: Frame) -> tuple[Over, ...]:
    found = folded(
        [*lately.over, *(one for one in lately.standing if one.rule == OF_ONE_TRANSMITTER[0])],
        limits.timeout + limits.grace,
    )
    shown = [one for one in reversed(found) if one.lead.cleared is not None]
    return tuple(_row(row, limits, frame) for row in sorted(in_rows(shown), key=lambda row: not row[0].lead.urgent))


def _row(row: Sequence[Folded[State | Incident]], limits: Limits, frame: Frame) -> Over:
    lead = row[0].lead
    return Over(
        title=title_words(lead.rule, lead.subject),
        subject=visible(subject_words(lead.subject)),
        anchor=anchor_of(lead.rule),
        level="look" if lead.urgent else "note",
        when=dates_words([one.lead for one in row], limits.zone),
        lasted=lasted_words([one.lead for one in row]),
        with_it=followed_words([other for one in row for other in one.followed], limits.zone),
        moments=incident_moments([one.lead for one in row], frame),
    )


def lately_words(lately: Lately, still: bool, rows: int, now: int, seen: float) -> str:
    """What the list of `rows` is; `seen`: the share of the seven days that a log tells of, 0 to 1."""
    if not rows and not seen:
        return "No log tells of the last seven days, so nothing can be found in them."
    unwatched = lately.watched is None or lately.watched[0] > now - LATELY
    partly = "" if seen >= ALL_SEEN else f" Only {words.percent(seen)} of the seven days had a log."
    if not rows and unwatched:
        return f"The rules find nothing in the log of the last seven days.{partly}"
    if not rows:
        return f"No alert was raised or cleared in the last seven days.{partly}"
    latest = f" The latest {ROWS} of {rows}." if rows > ROWS else ""
    return f"Raised or cleared in the last seven days, and over.{_how_found(still, unwatched)}{partly}{latest}"


def _how_found(still: bool, unwatched: bool) -> str:
    if still:
        return f" They {AFTERWARDS}"
    return f" Incidents from before `airtally serve` was started {AFTERWARDS}" if unwatched else ""
