"""Overs that ran into the time-out (docs/definitions.md, Time-outs). Masks over overs or attempts, shape (n,)."""

import numpy as np
import numpy.typing as npt

from server.analytics.activity import LOCKOUT, TIMEOUT, UNKNOWN, Overs, Timers, us
from server.analytics.sharing import Attempts
from shared.zones import SECOND

Mask = npt.NDArray[np.bool_]
SLACK = SECOND // 2  #: hosts cut a little early


def counted(overs: Overs) -> Mask:
    """Overs that the host says it cut."""
    return overs.cause == TIMEOUT


def inferred(overs: Overs, timers: Timers) -> Mask:
    """Estimated: the host gave no cause, and the over lasted timeout_s - 0.5 s or more."""
    return (overs.cause == UNKNOWN) & (overs.end - overs.start >= us(timers.timeout_s) - SLACK)


def near(overs: Overs, timers: Timers) -> Mask:
    """Overs that lasted 0.9 x timeout_s or more and are no time-out of either kind."""
    long = overs.end - overs.start >= us(0.9 * timers.timeout_s)
    return long & ~counted(overs) & ~inferred(overs, timers)


def lockouts(tried: Attempts) -> Mask:
    """Attempts that the host refused because the caller had run into the time-out."""
    return tried.reason == LOCKOUT
