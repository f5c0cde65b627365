"""What `airtally exposure` shows in a terminal."""

import math

from server.analytics.exposure import Exposure, Reached
from server.cli.show import columns, number, plain, window_words
from server.telling.caution import CAUTION, SCREENING
from server.telling.numbers import UNKNOWN
from server.telling.words import percent

NEAR = "near field"


def exposure_sheet(found: Exposure) -> str:
    """The screening sheet, the caution first."""
    set_up, six, thirty = found.radiator, found.duty["6min"], found.duty["30min"]
    lines = [
        SCREENING,
        CAUTION,
        "",
        window_words(found.window),
        f"Frequency {number(set_up.frequency_mhz, 3, ' MHz')}; EIRP while keyed {number(set_up.eirp_w, 1, ' W')}; "
        f"reflection of the ground {'counted' if set_up.ground_reflection else 'not counted'}.",
        f"Worst keyed share of 6 min: {percent(six)}; of 30 min: {percent(thirty)}.",
    ]
    if set_up.unset:
        lines.append(f"Not set, so not known: {', '.join(set_up.unset)}. Set them under [transmitter].")
    if found.window.blind_s and six is not None:
        lines.append("Part of this window was not seen, so the shares are the least that they can have been.")
    if six is None:
        lines.append("Nothing of this window was seen, so only the distances at full duty can be told.")
    lines += ["", *_limits(found)]
    if found.near_field_m is not None:
        lines.append(
            f"Nearer than {found.near_field_m:.2f} m is near field, where no distance can be given in this way."
        )
    if set_up.frequency_mhz is not None and any(one.w_m2 is None for one in found.limits):
        lines.append("A limit that is not known is not held here for this frequency.")
    return plain("\n".join([*lines, *(f"{one.name}: {one.source}." for one in found.limits)]))


def _limits(found: Exposure) -> list[str]:
    known = found.radiator.eirp_w is not None and found.near_field_m is not None
    rows = [
        [
            one.name,
            f"{one.averaging_min} min",
            number(one.w_m2, 3),
            _metres(one, one.distance_m, known and found.duty[f"{one.averaging_min}min"] is not None),
            _metres(one, one.distance_full_duty_m, known),
        ]
        for one in found.limits
    ]
    return columns(["limit", "averaged over", "W/m²", "distance at the worst share", "at full duty"], rows)


def _metres(one: Reached, distance_m: float | None, known: bool) -> str:
    """A distance, rounded up: nearer than it the limit is exceeded."""
    if distance_m is not None:
        return number(math.ceil(100 * distance_m) / 100, 2, " m")
    return NEAR if known and one.w_m2 is not None else UNKNOWN
