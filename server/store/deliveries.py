"""The outbox: notices, and how each delivery of one went."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from server.store.schema import delivery, incident, notice

ONCE = ("week",)  #: kinds of notices that are rather lost than sent twice


@dataclass(frozen=True)
class Due:
    """A delivery that is to be tried now."""

    id: int
    channel: str
    tries: int  #: before this one
    trouble: str | None
    title: str
    body: str
    made: int
    kind: str  #: raised, reminder, cleared, digest, week
    urgent: bool  #: whether its incident is; a digest is not


def put_notice(
    connection: sa.Connection, incident_id: int | None, *, kind: str, made: int, title: str, body: str
) -> int:
    """A notice into the outbox; its number."""
    row = sa.insert(notice).values(incident_id=incident_id, kind=kind, made=made, title=title, body=body)
    return int(connection.execute(row).inserted_primary_key[0])  # type: ignore[index]


def put_delivery(connection: sa.Connection, notice_id: int, *, channel: str, label: str, due: int) -> None:
    """A delivery of a notice that waits for its instant."""
    connection.execute(
        sa.insert(delivery).values(
            notice_id=notice_id, channel=channel, label=label, state="waiting", tries=0, next=due
        )
    )


def next_due(connection: sa.Connection, channels: Sequence[str], now: int) -> Due | None:
    """The delivery to one of these channels that has waited longest."""
    query = (
        sa.select(
            delivery.c.id,
            delivery.c.channel,
            delivery.c.tries,
            delivery.c.trouble,
            notice.c.title,
            notice.c.body,
            notice.c.made,
            notice.c.kind,
            sa.func.coalesce(incident.c.urgent, sa.false()),
        )
        .join(notice, notice.c.id == delivery.c.notice_id)
        .outerjoin(incident, incident.c.id == notice.c.incident_id)
        .where(delivery.c.state == "waiting", delivery.c.next <= now, delivery.c.channel.in_(channels))
    )
    row = connection.execute(query.order_by(delivery.c.next, delivery.c.id).limit(1)).first()
    return None if row is None else Due(*row)


def take_delivery(connection: sa.Connection, due: Due) -> bool:
    """Mark it as being sent; False where another airtally took it."""
    mine = sa.update(delivery).where(delivery.c.id == due.id, delivery.c.state == "waiting")
    return connection.execute(mine.values(state="sending", tries=due.tries + 1)).rowcount > 0


def keep_delivery(connection: sa.Connection, number: int, **values: Any) -> None:
    """Columns of one delivery as they are from now on."""
    connection.execute(sa.update(delivery).where(delivery.c.id == number).values(**values))


def wait_again(connection: sa.Connection, made_after: int, now: int) -> None:
    """Whatever has not got through of the notices made after an instant waits for another try, but for what is sent
    once.
    """
    fresh = delivery.c.notice_id.in_(
        sa.select(notice.c.id).where(notice.c.made > made_after, notice.c.kind.not_in(ONCE))
    )
    connection.execute(sa.update(delivery).where(delivery.c.state != "sent", fresh).values(state="waiting", next=now))


def leave_once(connection: sa.Connection, trouble: str) -> None:
    """What is sent once, and was being sent, is given up: nobody knows whether it came."""
    of_once = delivery.c.notice_id.in_(sa.select(notice.c.id).where(notice.c.kind.in_(ONCE)))
    mine = sa.update(delivery).where(delivery.c.state == "sending", of_once)
    connection.execute(mine.values(state="failed", trouble=trouble))


def leave_other_channels(connection: sa.Connection, channels: Sequence[str], trouble: str) -> None:
    """What waits for a channel that is none of these is given up."""
    others = delivery.c.channel.not_in(list(channels) or [""])
    connection.execute(
        sa.update(delivery).where(delivery.c.state == "waiting", others).values(state="failed", trouble=trouble)
    )


def labels(connection: sa.Connection) -> list[tuple[str, str]]:
    """Every channel with every label that it ever had."""
    rows = connection.execute(sa.select(delivery.c.channel, delivery.c.label).distinct())
    return [(channel, label) for channel, label in rows]


def label_anew(connection: sa.Connection, channel: str, old: str, new: str) -> None:
    """Give a channel's deliveries another label."""
    ours = (delivery.c.channel == channel) & (delivery.c.label == old)
    connection.execute(sa.update(delivery).where(ours).values(label=new))


@dataclass(frozen=True)
class Failing:
    """A delivery that has not got through."""

    label: str
    title: str
    tries: int
    trouble: str
    next: int | None  #: when it is tried again; None: not before the settings change


def failing(connection: sa.Connection) -> list[Failing]:
    """Deliveries that were tried and have not got through, newest first."""
    query = (
        sa.select(
            delivery.c.label, notice.c.title, delivery.c.tries, delivery.c.trouble, delivery.c.state, delivery.c.next
        )
        .join(notice, notice.c.id == delivery.c.notice_id)
        .where(delivery.c.state != "sent", delivery.c.trouble.is_not(None))
    )
    return [
        Failing(row.label, row.title, row.tries, row.trouble, None if row.state == "failed" else row.next)
        for row in connection.execute(query.order_by(delivery.c.id.desc()).limit(50))
    ]


def count_changes(connection: sa.Connection) -> tuple[int, ...]:
    """Changes whenever a delivery is made, tried or got through."""
    tries = sa.func.coalesce(sa.func.sum(delivery.c.tries), 0)
    counts = sa.select(sa.func.count(delivery.c.id), tries, sa.func.count(delivery.c.sent))
    return tuple(connection.execute(counts).one())
