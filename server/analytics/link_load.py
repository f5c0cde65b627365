"""From the store's rows to the figures of its links: the one way to them, for pages, commands and reports."""

from server.analytics.figure_types import Stretch
from server.analytics.linking import changes_by_link
from server.analytics.links import Heard, Links, links
from server.analytics.load import load_link_overs
from server.store.engine import Connection
from server.store.events import link_events
from shared import spans as sp


def load_links(connection: Connection, window: Stretch, blind: sp.Spans, until: int, since: int | None = None) -> Links:
    """The links of a window. `until` is the last line of any log; with `since`, an instant before the window, silences
    are judged by what was heard from then on. `blind` reaches as far.
    """
    low, end = window.start_us if since is None else min(since, window.start_us), window.end_us
    known = sp.difference(sp.spans([low], [min(end, until)]), sp.clip(blind, low, end))
    overs = load_link_overs(connection, low, end)
    return links(changes_by_link(link_events(connection, None, end)), Heard(known, overs, window))
