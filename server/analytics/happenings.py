"""The shut-outs and time-outs of a window one by one, for whoever leads from a count to its moments. Pure."""

from dataclasses import dataclass

from server.analytics.activity import UNKNOWN, Activity, Window, in_window
from server.analytics.moment import sent_of
from server.analytics.moment_types import TimedOut
from server.analytics.sharing import attempts, held, hold_spans, shut_outs
from server.analytics.timeouts import counted, inferred
from shared.events import MODES
from shared.timers import Timers
from shared.zones import SECOND


@dataclass(frozen=True)
class ShutOut:
    """One shut-out; what is not known is None."""

    at_us: int
    wanted: str | None
    held_by: str | None
    wait_s: float | None


def shut_outs_in(activity: Activity, window: Window, timers: Timers) -> tuple[ShutOut, ...]:
    """Those of [from, to), in order of time."""
    holds = held(activity.sent, hold_spans(activity.sent, timers))
    found = shut_outs(attempts(activity.refusals), holds)
    inside = in_window(found.t, window)
    rows = zip(*(column[inside].tolist() for column in (found.t, found.wanted, found.holder, found.wait)), strict=True)
    return tuple(
        ShutOut(at, _mode(wanted), _mode(holder), None if wait < 0 else wait / SECOND)
        for at, wanted, holder, wait in rows
    )


def timeouts_in(activity: Activity, window: Window, timers: Timers) -> tuple[TimedOut, ...]:
    """The time-outs of overs that start in [from, to), in order of time."""
    begun = activity.overs.where(in_window(activity.overs.start, window))
    logged = [TimedOut(one, estimated=False) for one in sent_of(begun.where(counted(begun)))]
    by_length = [TimedOut(one, estimated=True) for one in sent_of(begun.where(inferred(begun, timers)))]
    return tuple(sorted(logged + by_length, key=lambda one: one.over.start_us))


def _mode(code: int) -> str | None:
    return None if code == UNKNOWN else MODES[code]
