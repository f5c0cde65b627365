"""Radiated power and the distances at which a limit is met, for a first look only (docs/definitions.md, Exposure).

Far field, main beam, free space: a screening figure, no assessment. Pure.
"""

import math
from collections.abc import Callable
from dataclasses import asdict, dataclass, fields

from server.analytics.figure_types import Duty, Json, Stretch

LIGHT_M_S = 299_792_458.0  #: speed of light in vacuum, exact by the definition of the metre (SI)
GROUND = 2.56  #: power density with the reflection of typical ground: FCC OET Bulletin 65 (1.6 times the field; quoted)


def eirp_w(power_w: float, feeder_loss_db: float, antenna_gain_dbi: float) -> float:
    """Equivalent isotropically radiated power, watts: the power supplied to the antenna times its gain relative to an
    isotropic one (Radio Regulations 1.161, from memory).
    """
    return float(power_w * 10 ** ((antenna_gain_dbi - feeder_loss_db) / 10))


def power_density(eirp: float, distance_m: float, ground_reflection: bool = False) -> float:
    """W/m² at a distance in the far field: EIRP / (4πd²) (FCC OET Bulletin 65, worked examples)."""
    return (GROUND if ground_reflection else 1.0) * eirp / (4 * math.pi * distance_m**2)


def distance_m(eirp: float, limit_w_m2: float, ground_reflection: bool = False) -> float:
    """Metres from the antenna at which the far-field power density is down to a limit: `power_density` solved for d."""
    return math.sqrt((GROUND if ground_reflection else 1.0) * eirp / (4 * math.pi * limit_w_m2))


def near_field_m(frequency_mhz: float) -> float:
    """λ/2π, metres: nearer than that the far-field formula says nothing."""
    return LIGHT_M_S / (frequency_mhz * 1e6) / (2 * math.pi)


@dataclass(frozen=True)
class Band:
    """A limit from one frequency to another, MHz."""

    low_mhz: float
    high_mhz: float
    w_m2: Callable[[float], float]  #: of the frequency in MHz


@dataclass(frozen=True)
class Limit:
    """A published limit of power density for the public."""

    name: str
    averaging_min: int
    source: str
    bands: tuple[Band, ...]

    def at(self, frequency_mhz: float) -> float | None:
        """W/m²; None outside the bands that are held here. Where two bands meet, they agree."""
        return next((b.w_m2(frequency_mhz) for b in self.bands if b.low_mhz <= frequency_mhz <= b.high_mhz), None)


ICNIRP = "ICNIRP guidelines 2020, Health Physics 118:483-524"
LIMITS = (
    Limit(  # table 5, from memory
        "icnirp-2020-public-whole-body", 30, f"{ICNIRP}, general public, whole body",
        (Band(30, 400, lambda _: 2.0), Band(400, 2000, lambda f: f / 200)),
    ),
    Limit(  # from a reprinted table, quoted
        "icnirp-2020-public-local", 6, f"{ICNIRP}, general public, local",
        (Band(30, 400, lambda _: 10.0), Band(400, 2000, lambda f: 0.058 * f**0.86)),
    ),
    Limit(  # table 1, quoted: 0.2 mW/cm² and f/1500 mW/cm²; 1 mW/cm² is 10 W/m²
        "oet-65-general-population", 30, "FCC OET Bulletin 65, table 1, general population",
        (Band(30, 300, lambda _: 2.0), Band(300, 1500, lambda f: f / 150)),
    ),
)  # fmt: skip


@dataclass(frozen=True)
class Radiator:
    """Transmitter, feeder and antenna, as far as the keeper has set them."""

    frequency_mhz: float | None = None
    power_w: float | None = None
    feeder_loss_db: float | None = None
    antenna_gain_dbi: float | None = None
    ground_reflection: bool = False

    @property
    def unset(self) -> tuple[str, ...]:
        """What the keeper has not set."""
        return tuple(one.name for one in fields(self) if getattr(self, one.name) is None)

    @property
    def eirp_w(self) -> float | None:
        """While keyed; None where power, feeder or gain is not set."""
        if self.power_w is None or self.feeder_loss_db is None or self.antenna_gain_dbi is None:
            return None
        return eirp_w(self.power_w, self.feeder_loss_db, self.antenna_gain_dbi)


@dataclass(frozen=True)
class Reached:
    """Where one limit is met. None: not known, or nearer than the near field reaches."""

    name: str
    averaging_min: int
    w_m2: float | None
    distance_m: float | None  #: at the window's worst keyed share of `averaging_min`
    distance_full_duty_m: float | None
    source: str


@dataclass(frozen=True)
class Exposure:
    """The screening sheet of a window."""

    window: Stretch
    radiator: Radiator
    duty: dict[str, float | None]  #: the window's worst keyed share, by the minutes that exposure is averaged over
    near_field_m: float | None
    limits: tuple[Reached, ...]

    def as_json(self, caution: str) -> Json:
        """Just what `airtally exposure --json` prints."""
        return {
            "window": self.window.as_json(),
            "frequency_mhz": self.radiator.frequency_mhz,
            "eirp_w": self.radiator.eirp_w,
            "ground_reflection": self.radiator.ground_reflection,
            "duty": self.duty,
            "near_field_m": self.near_field_m,
            "limits": [asdict(one) for one in self.limits],
            "to_set": [f"[transmitter] {name}" for name in self.radiator.unset],
            "caution": caution,
        }


def exposure(window: Stretch, duty: Duty, radiator: Radiator) -> Exposure:
    """The sheet, from the worst keyed shares of a window."""
    shares = {minutes: fullest.share for minutes, fullest in duty}
    near = None if radiator.frequency_mhz is None else near_field_m(radiator.frequency_mhz)
    return Exposure(
        window=window,
        radiator=radiator,
        duty={f"{minutes}min": shares[minutes] for minutes in (6, 30)},
        near_field_m=near,
        limits=tuple(_reached(limit, radiator, shares[limit.averaging_min]) for limit in LIMITS),
    )


def _reached(limit: Limit, radiator: Radiator, share: float | None) -> Reached:
    level = None if radiator.frequency_mhz is None else limit.at(radiator.frequency_mhz)
    at_share, at_full = (_far(radiator, level, part) for part in (share, 1.0))
    return Reached(limit.name, limit.averaging_min, level, at_share, at_full, limit.source)


def _far(radiator: Radiator, level: float | None, share: float | None) -> float | None:
    """The distance at a keyed share; None where it is not known, or would lie in the near field."""
    eirp = radiator.eirp_w
    if radiator.frequency_mhz is None or eirp is None or level is None or share is None:
        return None
    found = distance_m(eirp * share, level, radiator.ground_reflection)
    return found if found >= near_field_m(radiator.frequency_mhz) else None
