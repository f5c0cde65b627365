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


def plan(first_day: dt.date, weeks: int, zone: ZoneInfo) -> tuple[Incident, ...]:
    """The incidents of a run of `weeks` weeks from the local midnight of `first_day`, in order of start.

    The stuck transmitter comes in the last week, so that the page that a demo opens with has something to say.
    """

    def at(share: float, weekday: int, hour: int, minute: int, days: int = 0) -> int:
        week = first_day + dt.timedelta(days=7 * min(int(share * weeks), weeks - 1))
        day = week + dt.timedelta(days=(weekday - week.weekday()) % 7 + days)
        return local_ms(day, hour, minute, zone)

    end = local_ms(first_day + dt.timedelta(days=7 * weeks), 0, 0, zone)
    planned = (
        Incident(
            "planned-restart",
            at(0.1, SATURDAY, 7, 0),
            at(0.1, SATURDAY, 7, 4),
            "the host was stopped and started again",
        ),
        Incident(
            "antenna-fault",
            at(0.25, TUESDAY, 14, 30),
            at(0.25, TUESDAY, 14, 30, FAULT_DAYS),
            f"everything received by radio came in {FAULT_LOSS_DB:g} dB weaker and with more bit errors, until the"
            " antenna was repaired",
        ),
        Incident(
            "link-outage", at(0.42, FRIDAY, 14, 10), at(0.42, FRIDAY, 21, 35), "the DMR network could not be reached"
        ),
        Incident(
            "new-radio",
            at(0.5, WEDNESDAY, 0, 0),
            end,
            f"one station bought a new radio and came in {RADIO_GAIN_DB:g} dB stronger from then on, which is no change"
            " of the repeater's",
        ),
        Incident(
            "power-cut",
            at(0.58, MONDAY, 18, 20),
            at(0.58, MONDAY, 20, 34),
            "the site lost its power without a line in the log, and an over never ended",
        ),
        Incident(
            "night-noise",
            at(0.65, THURSDAY, 12, 0),
            at(0.65, THURSDAY, 12, 0, NOISE_DAYS),
            f"a source of noise near the site: from {NOISE_HOURS[0]}:00 to {NOISE_HOURS[-1] + 1:02d}:00 every night,"
            f" all that was received by radio had {NOISE_PCT:g} points more bit errors, at the same level",
        ),
        Incident(
            "interference",
            at(0.77, MONDAY, 0, 0),
            at(0.77, MONDAY, 0, 0, 7),
            "bursts of noise opened the receiver night after night, and some keyed the transmitter",
        ),
        Incident(
            "stuck-transmitter",
            at(1.0, WEDNESDAY, 3, 10),
            at(1.0, WEDNESDAY, 6, 47),
            "a D-STAR over ran on for hours, as the host's own time-out timer failed too",
        ),
    )
    inside = [Incident(i.kind, i.start, min(i.end, end), i.what) for i in planned if i.start < end]
    return tuple(sorted(inside, key=lambda i: i.start))


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
