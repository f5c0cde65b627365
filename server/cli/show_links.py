"""What `airtally links` shows in a terminal."""

from server.analytics.links import Links
from server.cli.show import columns, window_words
from server.telling.link_quiet import longest_outages, silence_sentences
from server.telling.links import (
    AVAILABILITY,
    FLAP_NOTE,
    LOSS_NOTE,
    NO_LINKS,
    NO_LINKS_LOOK,
    TRAFFIC,
    availability_cells,
    never_up,
    not_told_apart,
    shown_name,
    traffic_cells,
)
from server.telling.numbers import count, duration, plain
from server.telling.targets import TargetNames

LONGEST = 10  # outages that are listed


def links_table(found: Links, names: TargetNames) -> str:
    """Each link in a row, its longest outages and silences, and what could not be told apart."""
    apart = not_told_apart(found)
    if not found.links:
        return "\n".join([window_words(found.window), NO_LINKS, NO_LINKS_LOOK, *([apart] if apart else [])])
    heads = ["link", "known", *(label.text.lower() for label in (*AVAILABILITY, *TRAFFIC))]
    rows = [
        [shown_name(one, names), duration(one.known_s), *availability_cells(one), *traffic_cells(one)]
        for one in found.links
    ]
    said, more = longest_outages(found, names, LONGEST)
    lines = [window_words(found.window), *columns(heads, rows), *said]
    lines += [f"And {count(more, 'shorter outage')}."] if more else []
    lines += [*silence_sentences(found, names), *never_up(found, names), FLAP_NOTE, LOSS_NOTE]
    return plain("\n".join([*lines, *([apart] if apart else [])]))
