"""The outbox: a thread of its own sends what waits, tries again with back-off, and leaves a row of how each delivery
went.

A delivery is marked `sending` in a transaction before it is handed over and `sent` in one after. Killed before the
first, it waits and is sent once; killed between the two, it is sent again at the next start (the only case in which a
notice may come twice), and says so."""

from collections.abc import Callable, Sequence

import sqlalchemy as sa

from server.alerts.book import Channel
from server.alerts.channels import Trouble, send
from server.service import Worker
from server.store import schema
from server.store.engine import reading, writing
from shared.redaction import redacted
from shared.zones import HOUR, SECOND

BACK_OFF = (5, 15, 60, 300, 900, 3600)  # seconds; then every hour
GIVE_UP = 7 * 24 * HOUR
AGAIN = "\n(Airtally was stopped while it sent this: it may have come before.)"
LOOK_AGAIN_S = 5.0
LONGEST_S = 120.0  # over one delivery


class Outbox:
    """Sends for one station until it is stopped."""

    def __init__(
        self,
        engine: sa.Engine,
        channels: Sequence[Channel],
        clock: Callable[[], int],
        deliver: Callable[[Channel, str, str], None] = send,
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
        table, now = schema.delivery, self._clock()
        fresh = table.c.notice_id.in_(sa.select(schema.notice.c.id).where(schema.notice.c.made > now - GIVE_UP))
        with writing(self._engine) as connection:
            connection.execute(sa.update(table).where(table.c.state != "sent", fresh).values(state="waiting", next=now))
            connection.execute(
                sa.update(table)
                .where(table.c.state == "waiting", table.c.channel.not_in(list(self._channels) or [""]))
                .values(state="failed", trouble="This place is no longer in the station file.")
            )
            for old in connection.execute(sa.select(table.c.channel, table.c.label).distinct()).all():
                channel = self._channels.get(old.channel)
                label = channel.label if channel is not None else redacted(old.label)
                if label != old.label:
                    connection.execute(
                        sa.update(table)
                        .where(table.c.channel == old.channel, table.c.label == old.label)
                        .values(label=label)
                    )

    def send_next(self) -> bool:
        """Send the delivery that has waited longest; whether there was one. Raises StoreError."""
        table, notice, now = schema.delivery, schema.notice, self._clock()
        with reading(self._engine) as connection:
            row = connection.execute(
                sa.select(
                    table.c.id,
                    table.c.channel,
                    table.c.tries,
                    table.c.trouble,
                    notice.c.title,
                    notice.c.body,
                    notice.c.made,
                )
                .join(notice, notice.c.id == table.c.notice_id)
                .where(table.c.state == "waiting", table.c.next <= now, table.c.channel.in_(list(self._channels)))
                .order_by(table.c.next, table.c.id)
                .limit(1)
            ).first()
        if row is None:
            return False
        mine = sa.update(table).where(table.c.id == row.id, table.c.state == "waiting")
        with writing(self._engine) as connection:
            if connection.execute(mine.values(state="sending", tries=row.tries + 1)).rowcount == 0:
                return True  # another airtally took it
        broken_off = row.tries > 0 and row.trouble is None
        after = sa.update(table).where(table.c.id == row.id)
        try:
            self._deliver(self._channels[row.channel], row.title, row.body + (AGAIN if broken_off else ""))
        except Trouble as trouble:
            wait = BACK_OFF[min(row.tries, len(BACK_OFF) - 1)] * SECOND
            hopeless = trouble.permanent or now + wait - row.made > GIVE_UP
            after = after.values(
                state="failed" if hopeless else "waiting", next=self._clock() + wait, trouble=trouble.says
            )
        else:
            after = after.values(state="sent", sent=self._clock())
        with writing(self._engine) as connection:
            connection.execute(after)
        return True
