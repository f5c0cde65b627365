"""Overs that ran into the time-out (docs/definitions.md, Time-outs). Masks over overs or attempts, shape (n,)."""

import numpy as np

from server.analytics.activity import LOCKOUT, TIMEOUT, UNKNOWN, Mask, Overs, us
from server.analytics.sharing import Attempts
from shared.timers import Timers
from shared.zones import SECOND

SLACK = SECOND // 2  #: hosts cut a little early


def counted(overs: Overs) -> Mask:
    """Overs that the host says it cut."""
    return np.asarray(overs.cause == TIMEOUT)


def inferred(overs: Overs, timers: Timers) -> Mask:
    """Estimated: the host gave no cause, and the over lasted timeout_s - 0.5 s or more, and is no overrun."""
    lasted = overs.end - overs.start
    return np.asarray((overs.cause == UNKNOWN) & (lasted >= us(timers.timeout_s) - SLACK) & ~overruns(overs, timers))


def overruns(overs: Overs, timers: Timers) -> Mask:
    """Overs longer than timeout_s + grace_s, whatever their cause: no time-out that works lets them run so long."""
    return overs.end - overs.start > us(timers.timeout_s) + us(timers.grace_s)


def near(overs: Overs, timers: Timers) -> Mask:
    """Overs that lasted 0.9 x timeout_s or more and are neither a time-out of either kind nor an overrun."""
    long = overs.end - overs.start >= us(0.9 * timers.timeout_s)
    return long & ~overruns(overs, timers) & ~counted(overs) & ~inferred(overs, timers)


def lockouts(tried: Attempts) -> Mask:
    """Attempts that the host refused because the caller had run into the time-out."""
    return np.asarray(tried.reason == LOCKOUT)
