"""Alerts as workers of one supervisor: watch, outbox and heartbeat."""

import threading
import time
from collections.abc import Callable

from server.alerts.channels import channels_of
from server.alerts.heartbeat import PART, Heartbeat
from server.alerts.outbox import Outbox
from server.alerts.watch import Watch
from server.config import Station
from server.service import Supervisor, tell_keeper
from server.store.engine import Store


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
    outbox = Outbox(engine, channels, clock)
    watch = Watch(engine, station, channels, outbox, clock, time.monotonic, caught_up)
    supervisor.add(watch.worker, outbox.worker)
    if station.alerts.alive_url:
        supervisor.add(Heartbeat(station.alerts.alive_url, lambda: supervisor.health(PART).is_well).worker)
    return watch.wake
