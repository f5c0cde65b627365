"""How well the repeater hears, beyond what each station is like: a fault of the antenna, a source of noise by night,
and a station's new radio. `airtally reception` and the Reception page find the first two; the third misleads neither.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from zoneinfo import ZoneInfo

from server.demo.incidents import FAULT_LOSS_DB, MS, NOISE_HOURS, NOISE_PCT, RADIO_GAIN_DB, Incident
from server.demo.world import Person
from shared.zones import from_us

FAULT_PCT = 0.8  # of bits in error more, besides what weaker signals have


@dataclass(frozen=True)
class Hearing:
    """What is planted of it; instants in milliseconds."""

    planned: Mapping[str, Incident]  #: by kind
    people: Sequence[Person]
    zone: ZoneInfo

    def gain_db(self, t: int, person: Person | None) -> float:
        """By how much somebody comes in stronger than usual at t."""
        gain = -FAULT_LOSS_DB if self._during("antenna-fault", t) else 0.0
        return gain + (RADIO_GAIN_DB if person is self.buyer and self._during("new-radio", t) else 0.0)

    def errors_pct(self, t: int) -> float:
        """How many bits in a hundred more are in error at t, whatever the level."""
        fault = FAULT_PCT if self._during("antenna-fault", t) else 0.0
        noisy = self._during("night-noise", t) and from_us(t * MS, self.zone).hour in NOISE_HOURS
        return fault + (NOISE_PCT if noisy else 0.0)

    @cached_property
    def buyer(self) -> Person:
        """Who buys the radio: of the local people the one who calls most often."""
        return max((one for one in self.people if not one.far), key=lambda one: one.weight)

    def _during(self, kind: str, t: int) -> bool:
        one = self.planned.get(kind)
        return one is not None and one.start <= t < one.end
