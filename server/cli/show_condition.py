"""What `airtally exposure` shows in a terminal."""

from server.analytics.exposure import Exposure
from server.cli.show import columns, window_words
from server.telling import exposure
from server.telling.caution import CAUTION, SCREENING
from server.telling.numbers import plain


def exposure_sheet(found: Exposure) -> str:
    """The screening sheet, the caution first."""
    table = exposure.limits_table(found)
    rows = [[row.head.text, *row.cells] for row in table.rows]
    lines = [
        SCREENING,
        CAUTION,
        "",
        window_words(found.window),
        *exposure.assumed(found),
        *exposure.notes(found),
        "",
        f"{table.caption}:",
        *columns([label.text if "/" in label.text else label.text.lower() for label in table.head], rows),
    ]
    return plain("\n".join([*lines, *exposure.near_field(found), *exposure.sources(found)]))
