"""Alerts as one thing to start and stop: watch, outbox and dead man's ping."""

import sys
import threading
import time
from collections.abc import Callable

import sqlalchemy as sa

from server.alerts.channels import channels_of
from server.alerts.deadman import DeadMan
from server.alerts.outbox import Outbox
from server.alerts.watch import Watch
from server.config import Station


class AlertService:
    """Runs beside a Follower, whose `on_caught` is `wake` and which says when no log is half read."""

    def __init__(
        self,
        engine: sa.Engine,
        station: Station,
        clock: Callable[[], int],
        caught_up: threading.Event,
        intake_is_well: Callable[[], bool],
    ) -> None:
        """Raises StationFileError. A URL that is no Apprise URL is said on standard error; the others still get their notices."""
        channels, troubles = channels_of(station.alerts.notify)
        for trouble in troubles:
            print(f"airtally: {trouble}", file=sys.stderr, flush=True)
        self._outbox = Outbox(engine, channels, clock)
        self._watch = Watch(engine, station, channels, self._outbox, clock, time.monotonic, caught_up)
        self._dead_man = DeadMan(station.alerts.alive_url, lambda: intake_is_well() and self._watch.is_well())

    def start(self) -> None:
        self._outbox.start()
        self._watch.start()
        self._dead_man.start()

    def stop(self) -> None:
        self._dead_man.stop()
        self._watch.stop()
        self._outbox.stop()

    def wake(self) -> None:
        """Lines came."""
        self._watch.wake()
