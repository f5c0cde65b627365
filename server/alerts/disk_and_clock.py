"""What the log can't tell, of the machine that airtally runs on: room on its disk, and its clock. Seen by the live
watch only.
"""

from dataclasses import dataclass

import numpy as np

from server.alerts.incident import Incident, Open, levels, stretches
from server.alerts.limits import MINUTE, Limits
from server.telling import evidence
from shared.zones import SECOND

ROOM, ROOM_CLEARS = 200 << 20, 300 << 20  # bytes
JUMP = 30 * SECOND
JUMP_SHOWN = 10 * MINUTE  # how long an incident about a jump stands
AHEAD, AHEAD_CLEARS = MINUTE, 10 * SECOND


@dataclass(frozen=True)
class DiskAndClock:
    """One look at it."""

    free: int | None  #: bytes that the store's disk has left; None where the store is no file
    jump: int  #: how far the clock was set since the last look, microseconds, signed
    ahead: int  #: how far the last line's stamp is ahead of the clock, microseconds


def watch_disk_and_clock(machine: DiskAndClock, now: int, limits: Limits, open_now: Open) -> list[Incident]:
    """The disk is nearly full; the clock jumped, or lines are stamped in its future."""
    nows = np.array([now], dtype=np.int64)
    jumped = open_now.get(("intake", "clock"))
    shown = jumped is not None and 0 <= now - jumped < JUMP_SHOWN
    rows = (
        (
            "disk",
            machine.free is not None and machine.free < ROOM,
            machine.free is None or machine.free > ROOM_CLEARS,
            evidence.disk_full(machine.free or 0, now, limits.zone),
        ),
        (
            "clock",
            abs(machine.jump) > JUMP,
            not shown,
            evidence.clock_set(machine.jump, now, limits.zone),
        ),
        (
            "stamps",
            machine.ahead > AHEAD,
            machine.ahead < AHEAD_CLEARS,
            evidence.stamps_ahead(machine.ahead, now, limits.zone),
        ),
    )
    return [
        Incident("intake", subject, one.raised, one.cleared, False, says if one.at >= 0 else "")
        for subject, up, down, says in rows
        for one in stretches(levels(np.array([up]), np.array([down])), nows, open_now.get(("intake", subject)))
    ]
