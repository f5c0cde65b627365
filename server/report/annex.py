"""The annex of the report: the screening sheet of exposure, where `[report] exposure` asks for it."""

from dataclasses import dataclass

from server.analytics.exposure import Exposure, Radiator
from server.config import Station
from server.telling import exposure
from server.telling.caution import CAUTION, SCREENING
from server.telling.parts import Fact, Table

#: Of these a default claims nothing about the station, so exposure takes them only where the keeper set them.
SET_OR_UNKNOWN = ("frequency_mhz", "power_w", "feeder_loss_db", "antenna_gain_dbi")


@dataclass(frozen=True)
class Annex:
    """All that the annex shows; what it is not comes first."""

    caution: str
    facts: tuple[Fact, ...]
    notes: tuple[str, ...]
    limits: Table
    sources: tuple[str, ...]


def annex_of(found: Exposure) -> Annex:
    return Annex(
        caution=f"{SCREENING} {CAUTION}",
        facts=exposure.set_up_facts(found),
        notes=exposure.notes(found),
        limits=exposure.limits_table(found),
        sources=exposure.sources(found),
    )


def radiator_of(station: Station) -> Radiator:
    """What the keeper has set; a feeder loss or a gain that is only a default is not known."""
    given = station.transmitter
    known = {name: getattr(given, name) for name in SET_OR_UNKNOWN if name in given.model_fields_set}
    return Radiator(**known, ground_reflection=given.ground_reflection)
