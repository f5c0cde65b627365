"""How heavily the transmitter was keyed."""

from zoneinfo import ZoneInfo

from server.analytics.figure_types import Figures
from server.telling import words
from server.telling.moments import stretch_words
from server.telling.parts import Label, Row, Table


def duty_table(figures: Figures, zone: ZoneInfo) -> Table:
    """The fullest spans, and when they were."""
    rows = []
    for minutes, fullest in figures.duty:
        when = stretch_words(*fullest.span, zone) if fullest.span else words.NONE
        rows.append(Row(Label(f"{minutes}{words.GAP}min"), (words.percent(fullest.share), when)))
    head = (Label("Length"), Label("Keyed", "duty"), Label("When"))
    return Table("The transmitter’s most heavily keyed 6, 30 and 60 minutes", head, tuple(rows), frozenset({1}))
