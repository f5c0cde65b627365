"""Tables that could be of any length, cut so that the report stays within four pages."""

from collections.abc import Sequence

from server.telling import words
from server.telling.links import AVAILABILITY, availability_cells
from server.telling.parts import Label, Row, Table
from server.telling.period import NamedLink, WideTalk
from shared.events import MODE_LABELS

ROWS = 8


def wide_table(wide: Sequence[WideTalk]) -> Table:
    head = (Label("Target"), Label("Mode"), Label("Conversations", "local on wide"), Label("Airtime", "local on wide"))
    rows = tuple(
        Row(
            Label(one.label),
            (
                MODE_LABELS.get(one.mode or "", "Unknown"),
                words.whole_number(one.conversations),
                words.duration(one.seconds),
            ),
        )
        for one in wide[:ROWS]
    )
    return Table(
        "Local talk on each wide target" + _only(len(wide), "those with most airtime"), head, rows, frozenset({0})
    )


def link_table(links: Sequence[NamedLink]) -> Table:
    shown = sorted(links, key=lambda link: -(link.its.down_s or 0.0))[:ROWS]
    rows = tuple(Row(Label(link.name), availability_cells(link.its)) for link in shown)
    caption = "What the log tells of each link" + _only(len(links), "those that were down longest")
    return Table(caption, (Label("Link"), *AVAILABILITY), rows)


def _only(many: int, which: str) -> str:
    """What a caption adds where a table is cut to ROWS."""
    return f" ({ROWS} of {words.whole_number(many)}: {which})" if many > ROWS else ""


def incident_caption(counted: str, rows: int, *, watched: bool) -> str:
    """Like incidents in a row are one row; where there are more rows than are shown, which they are."""
    said = (
        "Alerts raised in the month, or open in it"
        if watched
        else "What the alert rules find in the month’s log afterwards"
    )
    which = f" (the {ROWS} rows with urgent ones and the longest, of {words.whole_number(rows)})" if rows > ROWS else ""
    return f"{said}: {counted}{which}"
