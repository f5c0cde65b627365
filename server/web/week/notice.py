"""The week's verdict as a notice."""

from server.telling.addresses import week_path
from server.telling.verdict import verdict
from server.telling.week_notice import week_body, week_title
from server.web.source import Source
from server.web.week.view import week_facts
from server.web.weeks import Week


def week_notice(source: Source, week: Week, address: str) -> tuple[str, str] | None:
    """Title and body for a week that is over; None where nothing of it was seen. StoreError where the store can't be
    read.
    """
    facts = week_facts(source, week, week.end_us)
    if facts.nothing_read or not facts.figures.window.seen:
        return None
    title = week_title(source.station().callsign, f"Week {week.number}", week.dates)
    return title, week_body(verdict(facts), week_path(week.monday), address)
