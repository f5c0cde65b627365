"""The report's choice of incidents."""

from server.alerts.folding import folded, in_rows
from server.report.month import Incident, Month
from server.telling.incidents import counted_words, incident_row
from server.telling.moments import instant_words
from server.telling.month_tables import ROWS, incident_caption
from server.telling.parts import Label, Row, Table
from shared.incidents import since
from shared.zones import SECOND


def incident_table(month: Month) -> Table:
    """The rows with urgent ones and the longest. What followed from an over that runs on stands with it."""
    incidents = folded(month.incidents, round((month.timers.timeout_s + month.grace_s) * SECOND))
    found = in_rows(incidents)
    weighed = sorted(found, key=lambda row: (not row[0].lead.urgent, -max(_length(one.lead, month.end) for one in row)))
    shown = sorted(weighed[:ROWS], key=lambda row: row[0].lead.raised)
    rows = []
    for row in shown:
        leads = [one.lead for one in row]
        what, of, when, lasted = incident_row(leads, [other for one in row for other in one.followed], month.zone)
        rows.append(Row(Label(what), (of if leads[0].subject else "a name kept back", when, lasted)))
    head = (Label("What"), Label("Of"), Label("Raised"), Label("Lasted"))
    caption = incident_caption(counted_words(incidents), len(found), watched=month.watched)
    return Table(caption, head, tuple(rows), frozenset({0, 1}))


def note_table(month: Month) -> Table:
    """What the keeper noted for the committee, oldest first."""
    rows = tuple(
        Row(Label(instant_words(one.at, month.zone)), ("" if one.kind == "other" else one.kind, one.text))
        for one in month.notes
    )
    return Table(
        "What was done at the station", (Label("When"), Label("Done to"), Label("What")), rows, frozenset({0, 1})
    )


def _length(one: Incident, end: int) -> int:
    return (end if one.cleared is None else one.cleared) - since(one)
