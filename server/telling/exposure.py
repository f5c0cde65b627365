"""The screening sheet of exposure in words: for the page, the report and the terminal alike."""

import math

from server.analytics.exposure import Exposure, Reached
from server.telling.caution import EXPOSURE
from server.telling.numbers import GAP, UNKNOWN, number
from server.telling.parts import Fact, Label, Row, Table
from server.telling.words import percent

REFERENCE_W = 10.0  #: watts EIRP: Ofcom asks for an assessment above it (EMF policy and FAQ, seen)
NEAR = "near field"
LIMIT_WORDS = {
    "icnirp-2020-public-whole-body": "ICNIRP 2020, public, whole body",
    "icnirp-2020-public-local": "ICNIRP 2020, public, local",
    "oet-65-general-population": "OET 65, general population",
}
REFLECTED = "2.56 times the power density, as over typical ground"


def set_up_facts(found: Exposure) -> tuple[Fact, ...]:
    """Power and its averages, and what else the distances come from."""
    radiator = found.radiator
    frequency = radiator.frequency_mhz
    return (
        Fact(
            Label("Radiated power (EIRP)", "radiated power"),
            _watts(radiator.eirp_w),
            "while keyed, by the station file" if radiator.eirp_w is not None else _what_to_set(found),
        ),
        *(_average(found, minutes) for minutes in (6, 30)),
        Fact(
            Label("Frequency"),
            UNKNOWN if frequency is None else f"{frequency:g}{GAP}MHz",
            "" if frequency is not None else "set frequency_mhz under [transmitter]",
        ),
        Fact(Label("Near field", "near field"), _near(found), "nearer than that no distance can be given in this way"),
        Fact(
            Label("Reflection of the ground", "power density"),
            "counted" if radiator.ground_reflection else "not counted",
            REFLECTED if radiator.ground_reflection else f"ground_reflection = true counts {REFLECTED}",
        ),
    )


def limits_table(found: Exposure) -> Table:
    """Each limit and how far from the antenna it is met, at the worst keyed share and at full duty."""
    head = (
        Label("Limit", "exposure limit"), Label("Averaged over"), Label("W/m²", "exposure limit"),
        Label("Worst keyed share", "duty"), Label("Distance at that share", "exposure distance"),
        Label("Distance at full duty", "exposure distance"),
    )  # fmt: skip
    return Table("How far from the antenna each limit is met, in its main beam", head, tuple(_rows(found)))


def sources(found: Exposure) -> tuple[str, ...]:
    """Where each limit comes from."""
    return tuple(f"{LIMIT_WORDS[one.name]}: {one.source}." for one in found.limits)


def notes(found: Exposure) -> tuple[str, ...]:
    """What is missing, and what the distances leave out."""
    said = []
    if found.radiator.unset:
        names = ", ".join(f"{name}" for name in found.radiator.unset)
        said.append(f"Not set, so not known: {names}. Set them under [transmitter].")
    if not found.window.seen:
        said.append("Nothing of this time was seen, so only the distances at full duty can be told.")
    elif found.duty["6min"] is None:
        said.append("The keyed share of this time is not known, so only the distances at full duty can be told.")
    elif found.window.blind_s:
        said.append("Part of this time was not seen, so the shares are the least that they can have been.")
    if found.radiator.frequency_mhz is not None and any(one.w_m2 is None for one in found.limits):
        said.append("A limit that is not known is not held here for this frequency.")
    return tuple(said)


def metres(one: Reached, distance_m: float | None, known: bool) -> str:
    """A distance, rounded up: nearer than it the limit is exceeded."""
    if distance_m is not None:
        return f"{math.ceil(100 * distance_m) / 100:.2f}{GAP}m"
    return NEAR if known and one.w_m2 is not None else UNKNOWN


def _rows(found: Exposure) -> list[Row]:
    known = found.radiator.eirp_w is not None and found.near_field_m is not None
    return [
        Row(
            Label(LIMIT_WORDS[one.name]),
            (
                f"{one.averaging_min}{GAP}min", UNKNOWN if one.w_m2 is None else f"{one.w_m2:.3f}", percent(share),
                metres(one, one.distance_m, known and share is not None), metres(one, one.distance_full_duty_m, known),
            ),
        )
        for one in found.limits
        for share in [found.duty[f"{one.averaging_min}min"]]
    ]  # fmt: skip


def _average(found: Exposure, minutes: int) -> Fact:
    label = Label(f"Average over the worst {minutes}{GAP}min", "radiated power")
    eirp, share = found.radiator.eirp_w, found.duty[f"{minutes}min"]
    if eirp is None or share is None:
        return Fact(label, UNKNOWN, "" if eirp is None else "the keyed share of this time is not known")
    average = eirp * share
    beyond = "above" if average > REFERENCE_W else "not above"
    note = f"keyed {percent(share)}; {beyond} the {REFERENCE_W:g}{GAP}W EIRP from which some licences ask for an "
    return Fact(label, _watts(average), f"{note}assessment of exposure. {EXPOSURE}")


def _what_to_set(found: Exposure) -> str:
    *first, last = [f"{name}" for name in found.radiator.unset if name != "frequency_mhz"]
    return f"set {', '.join(first)}{' and ' if first else ''}{last} under [transmitter]"


def _watts(value: float | None) -> str:
    return UNKNOWN if value is None else f"{value:.3g}{GAP}W"


def _near(found: Exposure) -> str:
    return UNKNOWN if found.near_field_m is None else f"{found.near_field_m:.2f}{GAP}m"


def assumed(found: Exposure) -> tuple[str, str]:
    """What the distances come from, in two sentences for a terminal."""
    radiator = found.radiator
    reflection = "counted" if radiator.ground_reflection else "not counted"
    return (
        f"Frequency {number(radiator.frequency_mhz, 3, ' MHz')}; EIRP while keyed {number(radiator.eirp_w, 1, ' W')}; "
        f"reflection of the ground {reflection}.",
        f"Worst keyed share of 6 min: {percent(found.duty['6min'])}; of 30 min: {percent(found.duty['30min'])}.",
    )


def near_field(found: Exposure) -> tuple[str, ...]:
    """Where no distance can be given; nothing where it is not known."""
    if found.near_field_m is None:
        return ()
    return (f"Nearer than {found.near_field_m:.2f} m is near field, where no distance can be given in this way.",)
