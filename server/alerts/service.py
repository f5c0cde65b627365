"""Alerts as workers of one supervisor: watch, outbox and heartbeat."""

import threading
import time
from collections.abc import Callable
from functools import partial

from server.alerts.channels import channels_of
from server.alerts.heartbeat import PART, Heartbeat
from server.alerts.outbox import Outbox
from server.alerts.watch import Watch
from server.config import Station
from server.service import Supervisor, tell_keeper
from server.store.engine import Connection, Store, writing
from server.store.facts import read_fact, set_fact

HEARTBEAT = "heartbeat"


def add_alerts(
    supervisor: Supervisor, engine: Store, station: Station, clock: Callable[[], int], caught_up: threading.Event
) -> Callable[[], None]:  # fmt: skip
    """Adds the workers; what is given back is to be called when lines came. `caught_up` is set while no log is half
    read.

    Raises StationFileError. A URL that is no Apprise URL is said on standard error; the others still get their notices.
    """
    channels, troubles = channels_of(station.alerts.notify)
    for trouble in troubles:
        tell_keeper(trouble)
    weekly = channels_of(station.report.week, "report.week")[0]
    outbox = Outbox(engine, list({one.key: one for one in [*channels, *weekly]}.values()), clock)
    watch = Watch(engine, station, channels, outbox, clock, time.monotonic, caught_up)
    supervisor.add(watch.worker, outbox.worker)
    if station.alerts.alive_url:
        keep = partial(keep_heartbeat, engine)
        beat = Heartbeat(station.alerts.alive_url, lambda: supervisor.health(PART).is_well, keep=keep)
        supervisor.add(beat.worker)
    return watch.wake


def keep_heartbeat(engine: Store, trouble: str | None) -> None:
    """Keep why the heartbeat does not get through, so that `airtally check` tells it."""
    with writing(engine) as connection:
        set_fact(connection, HEARTBEAT, trouble or "")


def load_heartbeat(connection: Connection) -> str | None:
    """Why the last heartbeat of a `serve` did not get through; None where it did, or none was sent."""
    return read_fact(connection, HEARTBEAT) or None
