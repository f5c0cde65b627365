"""What goes wrong at Brackenfell, and when: the incidents that a run plants, so that alerts and pages can be held
against the truth.
"""

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.demo.world import FRIDAY, MONDAY, NETS, SATURDAY, THURSDAY, TUESDAY, WEDNESDAY
from shared.zones import to_us

MS = 1000  # microseconds
MINUTE_MS = 60_000
FAULT_DAYS = 10
FAULT_LOSS_DB = 12.0
RADIO_GAIN_DB = 9.0
NOISE_DAYS = 21
NOISE_PCT = 1.8
NOISE_HOURS = (22, 23, 0, 1, 2, 3, 4)  # local clock hours, over a change of the clocks too


@dataclass(frozen=True)
class Incident:
    """One planted incident; instants in milliseconds since 1970 UTC."""

    kind: str
    start: int
    end: int
    what: str


def local_ms(day: dt.date, hour: int, minute: int, zone: ZoneInfo) -> int:
    """The instant, in milliseconds, of a local wall-clock time."""
    return to_us(dt.datetime(day.year, day.month, day.day, hour, minute, tzinfo=zone)) // MS


@dataclass(frozen=True)
class Planned:
    """An incident as it is planted into a run of any length: in the week at `share` of the run, on this weekday."""

    kind: str
    share: float
    weekday: int
    begins: tuple[int, int]  #: local hour and minute
    what: str
    ends: tuple[int, int] | None = None  #: local hour and minute; None: with the run
    days: int = 0  #: how many days later it ends


#: The stuck transmitter comes in the last week, so that the page that a demo opens with has something to say.
PLANNED = (
    Planned("planned-restart", 0.1, SATURDAY, (7, 0), "the host was stopped and started again", (7, 4)),
    Planned(
        "antenna-fault",
        0.25,
        TUESDAY,
        (14, 30),
        f"everything received by radio came in {FAULT_LOSS_DB:g} dB weaker and with more bit errors, until the"
        " antenna was repaired",
        (14, 30),
        FAULT_DAYS,
    ),
    Planned("link-outage", 0.42, FRIDAY, (14, 10), "the DMR network could not be reached", (21, 35)),
    Planned(
        "new-radio",
        0.5,
        WEDNESDAY,
        (0, 0),
        f"one station bought a new radio and came in {RADIO_GAIN_DB:g} dB stronger from then on, which is no change"
        " of the repeater's",
    ),
    Planned(
        "power-cut",
        0.58,
        MONDAY,
        (18, 20),
        "the site lost its power without a line in the log, and an over never ended",
        (20, 34),
    ),
    Planned(
        "night-noise",
        0.65,
        THURSDAY,
        (12, 0),
        f"a source of noise near the site: from {NOISE_HOURS[0]}:00 to {NOISE_HOURS[-1] + 1:02d}:00 every night,"
        f" all that was received by radio had {NOISE_PCT:g} points more bit errors, at the same level",
        (12, 0),
        NOISE_DAYS,
    ),
    Planned(
        "link-flaps",
        0.67,
        THURSDAY,
        (1, 10),
        "the link to the C4FM network was lost and back within a minute, again and again through a night",
        (4, 30),
    ),
    Planned(
        "interference",
        0.77,
        MONDAY,
        (0, 0),
        "bursts of noise opened the receiver night after night, and some keyed the transmitter",
        (0, 0),
        7,
    ),
    Planned(
        "stuck-transmitter",
        1.0,
        WEDNESDAY,
        (3, 10),
        "a D-STAR over ran on for hours, as the host's own time-out timer failed too",
        (6, 47),
    ),
)


def plan(first_day: dt.date, weeks: int, zone: ZoneInfo) -> tuple[Incident, ...]:
    """The incidents of a run of `weeks` weeks from the local midnight of `first_day`, in order of start."""
    end = local_ms(first_day + dt.timedelta(days=7 * weeks), 0, 0, zone)
    planted = []
    for its in PLANNED:
        week = first_day + dt.timedelta(days=7 * min(int(its.share * weeks), weeks - 1))
        day = week + dt.timedelta(days=(its.weekday - week.weekday()) % 7)
        start = local_ms(day, *its.begins, zone)
        over = end if its.ends is None else local_ms(day + dt.timedelta(days=its.days), *its.ends, zone)
        if start < end:
            planted.append(Incident(its.kind, start, min(over, end), its.what))
    return tuple(sorted(planted, key=lambda incident: incident.start))


def flapping(planned: Incident) -> list[tuple[int, int]]:
    """The losses of a link that flaps, one every five to twelve minutes: [from, to), each under a minute. Drawn without
    chance, so that nothing else of a run depends on it.
    """
    lost, at, turn = [], planned.start, 0
    while at < planned.end - MINUTE_MS:
        lost.append((at, at + 18_000 + 7_000 * (turn * 5 % 6)))
        at += MINUTE_MS * (5 + (turn * 3) % 8)
        turn += 1
    return lost


def nets(first_day: dt.date, weeks: int, zone: ZoneInfo) -> list[tuple[int, int, str, str]]:
    """The weekly nets of a run: (start, end, mode, target), instants in milliseconds."""
    held = []
    for day in range(7 * weeks):
        date = first_day + dt.timedelta(days=day)
        for mode, target, weekday, hour, minutes in NETS:
            if date.weekday() == weekday:
                start = local_ms(date, hour, 0, zone)
                held.append((start, start + minutes * MINUTE_MS, mode, target))
    return held
