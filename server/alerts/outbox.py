"""The outbox: a thread of its own sends what waits, tries again with back-off, and leaves a row of how each delivery
went.

A delivery is marked `sending` in a transaction before it is handed over and `sent` in one after. Killed before the
first, it waits and is sent once; killed between the two, it is sent again at the next start (the only case in which a
notice may come twice), and says so."""

from collections.abc import Callable, Sequence
from typing import Any

from server.alerts.channels import Trouble, Weight, send
from server.alerts.repository import Channel
from server.service import Worker
from server.store.deliveries import (
    keep_delivery,
    label_anew,
    labels,
    leave_other_channels,
    next_due,
    take_delivery,
    wait_again,
)
from server.store.engine import Store, reading, writing
from shared.redaction import redacted
from shared.zones import HOUR, SECOND

BACK_OFF = (5, 15, 60, 300, 900, 3600)  # seconds; then every hour
GIVE_UP = 7 * 24 * HOUR
AGAIN = "\n(Airtally was stopped while it sent this: it may have come before.)"
LOOK_AGAIN_S = 5.0
LONGEST_S = 120.0  # over one delivery


def weight_of(kind: str, urgent: bool) -> Weight:
    """How grave a notice is, for places that show that."""
    if kind == "cleared":
        return "success"
    if kind == "digest":
        return "info"
    return "failure" if urgent else "warning"


class Outbox:
    """Sends for one station until it is stopped."""

    def __init__(
        self,
        engine: Store,
        channels: Sequence[Channel],
        clock: Callable[[], int],
        deliver: Callable[[Channel, str, str, Weight], None] = send,
    ) -> None:
        self._engine = engine
        self._channels = {channel.key: channel for channel in channels}
        self._clock = clock
        self._deliver = deliver
        self.worker = Worker("outbox", "Sending notices", self._round, LONGEST_S)
        self._taken_up = False

    def wake(self) -> None:
        """Something was put into the outbox."""
        self.worker.wake()

    def _round(self) -> float:
        if not self._taken_up:
            self.take_up()
            self._taken_up = True
        while not self.worker.stopping and self.send_next():
            self.worker.sign_of_life()
        return LOOK_AGAIN_S

    def take_up(self) -> None:
        """After a start: what a former process was sending or had given up is tried once more (the settings may be
        mended), and what is for a place that is no longer in the station file is left. Labels are written anew: an
        older version's may show a token. Raises StoreError.
        """
        now = self._clock()
        with writing(self._engine) as connection:
            wait_again(connection, now - GIVE_UP, now)
            leave_other_channels(connection, list(self._channels), "This place is no longer in the station file.")
            for key, old in labels(connection):
                channel = self._channels.get(key)
                label = channel.label if channel is not None else redacted(old)
                if label != old:
                    label_anew(connection, key, old, label)

    def send_next(self) -> bool:
        """Send the delivery that has waited longest; whether there was one. Raises StoreError."""
        now = self._clock()
        with reading(self._engine) as connection:
            due = next_due(connection, list(self._channels), now)
        if due is None:
            return False
        with writing(self._engine) as connection:
            if not take_delivery(connection, due):
                return True  # another airtally took it
        broken_off = due.tries > 0 and due.trouble is None
        outcome: dict[str, Any]
        try:
            body = due.body + (AGAIN if broken_off else "")
            self._deliver(self._channels[due.channel], due.title, body, weight_of(due.kind, due.urgent))
        except Trouble as trouble:
            wait = BACK_OFF[min(due.tries, len(BACK_OFF) - 1)] * SECOND
            hopeless = trouble.permanent or now + wait - due.made > GIVE_UP
            state = "failed" if hopeless else "waiting"
            outcome = {"state": state, "next": self._clock() + wait, "trouble": trouble.says}
        else:
            outcome = {"state": "sent", "sent": self._clock()}
        with writing(self._engine) as connection:
            keep_delivery(connection, due.id, **outcome)
        return True
