"""What `airtally exposure` shows in a terminal."""

from server.analytics.exposure import Exposure
from server.cli.show import columns, number, window_words
from server.telling import exposure
from server.telling.caution import CAUTION, SCREENING
from server.telling.numbers import plain
from server.telling.words import percent


def exposure_sheet(found: Exposure) -> str:
    """The screening sheet, the caution first."""
    set_up, six, thirty = found.radiator, found.duty["6min"], found.duty["30min"]
    table = exposure.limits_table(found)
    rows = [[row.head.text, *row.cells] for row in table.rows]
    lines = [
        SCREENING,
        CAUTION,
        "",
        window_words(found.window),
        f"Frequency {number(set_up.frequency_mhz, 3, ' MHz')}; EIRP while keyed {number(set_up.eirp_w, 1, ' W')}; "
        f"reflection of the ground {'counted' if set_up.ground_reflection else 'not counted'}.",
        f"Worst keyed share of 6 min: {percent(six)}; of 30 min: {percent(thirty)}.",
        *exposure.notes(found),
        "",
        f"{table.caption}:",
        *columns([label.text if "/" in label.text else label.text.lower() for label in table.head], rows),
    ]
    if found.near_field_m is not None:
        lines.append(
            f"Nearer than {found.near_field_m:.2f} m is near field, where no distance can be given in this way."
        )
    return plain("\n".join([*lines, *exposure.sources(found)]))
