"""What the commands about the station itself show in a terminal."""

import math

from server.analytics.exposure import Exposure, Reached
from server.analytics.links import LinkFigures, Links, Outage
from server.cli.show import columns, number, plain, window_words
from server.telling.caution import CAUTION, SCREENING
from server.telling.links import link_name
from server.telling.moments import instant_words
from server.telling.numbers import UNKNOWN, count, duration, verb, whole_number
from server.telling.targets import TargetNames
from server.telling.words import fine_percent, percent

NEAR = "near field"
LONGEST = 10  # outages that are listed


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


def links_table(found: Links, names: TargetNames) -> str:
    """Each link in a row, its longest outages, and what could not be told apart."""
    if not found.links:
        none = "No line of the log tells of a link: a dialect gives `link-up` and `link-down` where the host logs them."
        return "\n".join([window_words(found.window), none, *_not_told_apart(found)])
    heads = ["link", "known", "available", "down", "outages", "flaps", "overs", "airtime", "loss", "above 5 %"]
    rows = [
        [
            names.of_link(link_name(*one.key)), duration(one.known_s), fine_percent(one.availability),
            duration(one.down_s), whole_number(None if one.outages is None else len(one.outages)),
            whole_number(one.flaps), whole_number(one.overs), duration(one.airtime_s), number(one.loss_pct, 1, " %"),
            percent(one.loss_high_share),
        ]
        for one in found.links
    ]  # fmt: skip
    lines = [window_words(found.window), *columns(heads, rows), *_longest_outages(found, names)]
    lines += [
        "A flap is an outage shorter than 60 s. Loss is the mean over seconds; above 5 % is the share of these "
        "seconds.",
        *_not_told_apart(found),
    ]
    return plain("\n".join(lines))


def _longest_outages(found: Links, names: TargetNames) -> list[str]:
    every = [(one, outage) for one in found.links for outage in one.outages or ()]
    if not every:
        return []
    zone, end = found.window.zone, found.window.end_us

    def said(link: LinkFigures, outage: Outage) -> str:
        since = instant_words(outage.start_us, zone, with_year=True)
        back = "not back in this window" if outage.end_us is None else f"to {instant_words(outage.end_us, zone)}"
        return f"{names.of_link(link_name(*link.key))} was down from {since}, {back}."

    every.sort(key=lambda pair: pair[1].start_us - (pair[1].end_us or end))
    more = [f"And {count(len(every) - LONGEST, 'shorter outage')}."] if len(every) > LONGEST else []
    return [said(*one) for one in every[:LONGEST]] + more


def _not_told_apart(found: Links) -> list[str]:
    many = found.not_told_apart
    if not many:
        return []
    are = f"{verb(many, 'is', 'are')} not told apart: {verb(many, 'it fits', 'they fit')}"
    return [
        f"Of {count(found.overs, 'over')} that came over a link {whole_number(many)} {are} no link that was up, "
        "or more than one."
    ]
