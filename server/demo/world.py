"""The invented world of Brackenfell: who lives there, what they talk over, and their habits.

Call signs begin with Q, a series that the Radio Regulations allocate to nobody, and numeric ids with 999, so no one
here can be a real station. Talkgroups, reflectors, groups and networks are invented too. The world is the same for
every seed: a seed settles only what its people do.
"""

from dataclasses import dataclass

import numpy as np

CALLSIGN, NAME, ZONE = "QB0BFR", "Brackenfell", "Europe/London"
TIMEOUT_S = 180
GRACE_S = 10  # how far beyond it an over may run before it is reported
HOLD_S = {"default": 20, "dmr": 10}
TAIL_S = {"default": 0, "dmr": 2}
COURTESY_GAP_S = 1.0
QUIET_LOG_S = 900

MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY, SATURDAY, SUNDAY = range(7)


@dataclass(frozen=True)
class Person:
    """A station and the habits of whoever sits at it; lengths and gaps are medians in seconds."""

    callsign: str
    number: str | None  #: how a DMR host without a list of names logs it
    suffix: str  #: what its radio sends after the call sign on D-STAR, often nothing
    modes: tuple[str, ...]
    over_s: float
    gap_s: float
    rssi_dbm: float
    weight: float  #: how often it calls, against the others
    heeds_timer: bool  #: lets go before the time-out timer cuts it
    far: bool = False  #: heard over a link only

    def logged(self, mode: str) -> str | None:
        """The text by which the host's log names this station in a mode; FM carries no name."""
        if mode == "fm":
            return None
        if mode == "dmr" and self.number:
            return self.number
        return self.callsign + self.suffix if mode == "dstar" else self.callsign

    def identity(self, mode: str) -> str | None:
        """What that text should be boiled down to (docs/definitions.md, From events to overs)."""
        text = self.logged(mode)
        return self.callsign if text and text.startswith(self.callsign) else text


@dataclass(frozen=True)
class Target:
    """A talkgroup, reflector or group. Weights: how often local callers choose it, and how often traffic comes from
    it.
    """

    mode: str
    name: str | None
    label: str
    reach: str
    slot: int | None
    calls: float
    streams: float


@dataclass(frozen=True)
class Habit:
    """How one mode is used: mean calls and streams from afar in a week, overs in a conversation, share of bare
    key-ups.
    """

    calls_a_week: float
    streams_a_week: float
    overs: float
    kerchunks: float
    network: str | None


TARGETS = (
    Target("dmr", "99901", "Brackenfell chat", "local", 2, 5, 0),
    Target("dmr", "99910", "Lower dales", "regional", 2, 2, 1.5),
    Target("dmr", "99930", "Upper fells", "regional", 1, 1.5, 2),
    Target("dmr", "99950", "All fells", "wide", 1, 2, 4),
    Target("dstar", "BFR A", "Brackenfell local", "local", None, 4, 0),
    Target("dstar", "DALES B", "Dales reflector", "regional", None, 2, 2),
    Target("dstar", "FELLS C", "Fells of the world", "wide", None, 1.5, 3),
    Target("c4fm", "Sheepfold", "Sheepfold group", "local", None, 4, 0),
    Target("c4fm", "GreatMoot", "Great Moot group", "wide", None, 2, 3),
    Target("p25", "64970", "Lantern practice", "local", None, 1, 0),
    Target("m17", "MOOR M", "Moor module", "regional", None, 1, 1),
    Target("fm", None, "Analogue", "local", None, 1, 0),
)
HABITS = {
    "dmr": Habit(150, 62, 8, 0.12, "fellnet"),
    "dstar": Habit(75, 30, 7, 0.12, "ghyllnet"),
    "c4fm": Habit(80, 32, 8, 0.10, "mootnet"),
    "fm": Habit(34, 0, 6, 0.15, None),
    "p25": Habit(1.6, 0, 5, 0.10, None),
    "m17": Habit(2.2, 1, 5, 0.10, "ghyllnet"),
}
NETWORKS = ("fellnet", "ghyllnet", "mootnet")
#: What the box of the links calls its links: network, mode, and the target where a link carries no more than one.
LINKS = (
    ("fellnet", "dmr", None),
    ("ghyllnet", "dstar", None),
    ("ghyllnet", "m17", "MOOR M"),
    ("mootnet", "c4fm", "GreatMoot"),
)

#: Weekly meetings on the air: mode, target, weekday, local hour, minutes.
NETS = (
    ("dmr", "99901", TUESDAY, 20, 65),
    ("dstar", "BFR A", THURSDAY, 20, 50),
    ("c4fm", "Sheepfold", SUNDAY, 10, 45),
)

# Relative rate of each local hour: weekdays lie low while people are at work and peak in the evening, week-ends are
# fuller by day.
WEEKDAY_HOURS = np.array([2, 1, 0.5, 0.5, 0.5, 1, 3, 7, 8, 4, 4, 4, 5, 4, 3, 4, 7, 10, 11, 13, 14, 12, 8, 4])
WEEKEND_HOURS = np.array([3, 2, 1, 0.5, 0.5, 1, 2, 4, 7, 10, 11, 11, 9, 8, 8, 8, 9, 9, 10, 11, 12, 10, 8, 5])
WEEKDAYS = np.array([0.85, 1.0, 0.9, 1.0, 0.95, 1.2, 1.25])

LOCAL_PEOPLE, FAR_PEOPLE = 60, 120
CONSONANTS = list("BCDFGHJKLMNPRSTVWXYZ")


def hourly_shares() -> np.ndarray:
    """Share of a week's calls that falls in each local hour, shape (7, 24), Monday first; sums to 1."""
    rows = np.array([(WEEKEND_HOURS if day >= SATURDAY else WEEKDAY_HOURS) for day in range(7)])
    rates = rows / rows.sum(axis=1, keepdims=True) * WEEKDAYS[:, None]
    return np.asarray(rates / rates.sum())


def targets_of(mode: str) -> tuple[Target, ...]:
    """The targets of one mode."""
    return tuple(target for target in TARGETS if target.mode == mode)


def people() -> tuple[Person, ...]:
    """Everybody who is ever heard on the repeater, local people first."""
    rng = np.random.default_rng(1926)  # fixed: the world doesn't change with the seed of a run
    taken = {CALLSIGN}
    return tuple(_person(rng, taken, place, far=place >= LOCAL_PEOPLE) for place in range(LOCAL_PEOPLE + FAR_PEOPLE))


def _person(rng: np.random.Generator, taken: set[str], place: int, far: bool) -> Person:
    callsign = CALLSIGN
    while callsign in taken:
        suffix = "".join(rng.choice(CONSONANTS, size=3))
        callsign = f"Q{rng.choice(list('KLMNPR' if far else 'ABCDE'))}{rng.integers(1, 10)}{suffix}"
    taken.add(callsign)
    rare = tuple(mode for mode in ("p25", "m17") if rng.random() < 0.2)
    common = tuple(
        mode for mode, share in (("dmr", 0.6), ("dstar", 0.45), ("c4fm", 0.5), ("fm", 0.4)) if rng.random() < share
    )
    return Person(
        callsign=callsign,
        number=f"999{4000 + place * 7:04d}" if rng.random() < 0.4 else None,
        suffix=str(rng.choice(["", "", "", "/M", "-7"])),
        modes=common + rare or ("dmr",),
        over_s=float(rng.lognormal(np.log(17), 0.45)),
        gap_s=float(rng.lognormal(np.log(2.0), 0.4)),
        rssi_dbm=float(rng.uniform(-108, -72)),
        weight=float(rng.lognormal(0, 0.9)),
        heeds_timer=bool(rng.random() < 0.65),
        far=far,
    )
