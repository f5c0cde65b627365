"""The outbox: a thread of its own sends what waits, tries again with back-off, and leaves a row of how each delivery
went.

A delivery is marked `sending` in a transaction before it is handed over and `sent` in one after. Killed before the
first, it waits and is sent once; killed between the two, it is sent again at the next start. So is one that was handed
over and never answered, a few times. Only in these two cases may a notice come twice, and it says so."""

from collections.abc import Callable, Sequence
from typing import Any

from server.alerts.channels import Trouble, Weight, send
from server.alerts.repository import Channel
from server.service import Worker
from server.store.deliveries import (
    ONCE,
    Due,
    keep_delivery,
    label_anew,
    labels,
    leave_once,
    leave_other_channels,
    next_due,
    take_delivery,
    wait_again,
)
from server.store.engine import Store, reading, writing
from shared.redaction import redacted
from shared.zones import HOUR, SECOND

BACK_OFF = (5, 15, 60, 300, 900, 3600)  # seconds; then every hour
REFUSED_BACK_OFF = (
    900,
    3600,
    21_600,
)  # after a refusal that seldom gets better: a proxy that restarts, settings that change
UNSURE_BACK_OFF = (60, 900, 3600)
UNSURE_TRIES = 4  # a receiver that takes notices and never says so would get the same one for a week
GIVE_UP = 7 * 24 * HOUR
AGAIN = "\n(Airtally was stopped while it sent this: it may have come before.)"
MAYBE = " It may have come all the same."  # ends the trouble of a delivery that was handed over and not answered
SENT_BEFORE = "\n(It was sent before, and whether it came was not answered: it may have come already.)"
BROKEN_OFF = "It was being sent when airtally was stopped: it may not have come. It is not sent twice."
LOOK_AGAIN_S = 5.0
LONGEST_S = 120.0  # over one delivery


def weight_of(kind: str, urgent: bool) -> Weight:
    """How grave a notice is, for places that show that."""
    if kind == "cleared":
        return "success"
    if kind in ("digest", *ONCE):
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
            leave_once(connection, BROKEN_OFF)
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
        outcome: dict[str, Any]
        try:
            body, weight = due.body + _remark(due), weight_of(due.kind, due.urgent)
            self._deliver(self._channels[due.channel], due.title, body, weight)
        except Trouble as trouble:
            outcome = self._after(due, trouble)
        else:
            outcome = {"state": "sent", "sent": self._clock()}
        with writing(self._engine) as connection:
            keep_delivery(connection, due.id, **outcome)
        return True

    def _after(self, due: Due, trouble: Trouble) -> dict[str, Any]:
        """What becomes of a delivery that did not get through: when it is tried again, if it is."""
        unsure = trouble.unsure or _may_have_come(due)
        steps = REFUSED_BACK_OFF if trouble.permanent else UNSURE_BACK_OFF if unsure else BACK_OFF
        wait = steps[min(due.tries, len(steps) - 1)] * SECOND
        now = self._clock()
        once = due.kind in ONCE and trouble.unsure
        enough = once or (trouble.unsure and due.tries + 1 >= UNSURE_TRIES) or now + wait - due.made > GIVE_UP
        if trouble.permanent and due.trouble is None:
            hours = REFUSED_BACK_OFF[-1] // 3600
            self.worker.tell(
                f"{self._channels[due.channel].label} refuses a notice ({trouble.says}); it is tried again after a "
                f"quarter of an hour, then an hour, then every {hours} hours. `airtally check` tells how it stands."
            )
        says = trouble.says + (MAYBE if unsure else "")
        return {"state": "failed" if enough else "waiting", "next": now + wait, "trouble": says}


def _may_have_come(due: Due) -> bool:
    return due.trouble is not None and due.trouble.endswith(MAYBE)


def _remark(due: Due) -> str:
    """What a notice says of itself where it may have come before."""
    if _may_have_come(due):
        return SENT_BEFORE
    return AGAIN if due.tries > 0 and due.trouble is None else ""
