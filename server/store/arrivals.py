"""When lines came that have no stamp of their own.

Figures take such a line at the stamp before it (docs/definitions.md, Seen time). Whoever asks whether a log is silent,
or how much of its last hour is unread, asks by when lines came: the file's time of change when they were read at its
end."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from server.store.schema import arrival
from shared.zones import DAY, SECOND

MINUTE = 60 * SECOND
KEPT = 100 * DAY  # what the rules look back on, and a little more
NO_STAMP = 0  # no line before it had one


@dataclass(frozen=True)
class Arrival:
    """Lines of one log that came in one minute."""

    at_us: int  #: the minute
    stamp_us: int  #: the stamp of the line before them, NO_STAMP where there was none
    lines: int
    unread: int  #: of the lines


def add_arrival(connection: sa.Connection, log_id: int, file_id: int, came: Arrival) -> None:
    """Keep when lines of a file came, to the minute. What is too old for anybody to ask about goes."""
    at = came.at_us // MINUTE * MINUTE
    ours = (arrival.c.log_id == log_id) & (arrival.c.file_id == file_id)
    same = ours & (arrival.c.at == at) & (arrival.c.stamp == came.stamp_us)
    more = {"lines": arrival.c.lines + came.lines, "unread": arrival.c.unread + came.unread}
    if connection.execute(sa.update(arrival).where(same).values(**more)).rowcount == 0:
        values = {"at": at, "stamp": came.stamp_us, "lines": came.lines, "unread": came.unread}
        connection.execute(sa.insert(arrival).values(log_id=log_id, file_id=file_id, **values))
        connection.execute(sa.delete(arrival).where(arrival.c.log_id == log_id, arrival.c.at < at - KEPT))


def arrivals(connection: sa.Connection, log_id: int, low: int, high: int) -> list[Arrival]:
    """What came in [low, high), or is stamped in it, oldest first."""
    when = arrival.c.at.between(low, high - 1) | arrival.c.stamp.between(low, high - 1)
    query = sa.select(arrival.c.at, arrival.c.stamp, arrival.c.lines, arrival.c.unread)
    rows = connection.execute(query.where(arrival.c.log_id == log_id, when).order_by(arrival.c.at))
    return [Arrival(*row) for row in rows]


def as_they_came(
    stamps: npt.NDArray[np.int64], came: Iterable[tuple[int, int, int]], low: int, high: int
) -> npt.NDArray[np.int64]:
    """Stamps of lines (n,), sorted, those of lines without a stamp of their own moved to when they came. `came`: when,
    the stamp that they stand under, how many; what came outside of [low, high) goes.
    """
    rows = list(came)
    if not rows:
        return stamps
    stays = np.ones(len(stamps), dtype=np.bool_)
    under: Counter[int] = Counter()
    for _, stamp, count in rows:
        under[stamp] += count
    for stamp, count in under.items():
        first, after = np.searchsorted(stamps, (stamp, stamp + 1))
        stays[first : min(after, first + count)] = False
    moved = np.repeat([at for at, _, _ in rows], [count for _, _, count in rows]).astype(np.int64)
    return np.sort(np.concatenate([stamps[stays], moved[(moved >= low) & (moved < high)]]))


def take_back(connection: sa.Connection, log_id: int, file_id: int, moves: Iterable[tuple[int | None, bool]]) -> None:
    """Lines that were unread are understood now: the stamp that each stood under, and whether it has one of its own."""
    for (stamp, has_own), count in Counter(moves).items():
        ours = (arrival.c.log_id == log_id) & (arrival.c.file_id == file_id) & (arrival.c.unread > 0)
        rows = connection.execute(
            sa.select(arrival).where(ours, arrival.c.stamp == (NO_STAMP if stamp is None else stamp))
        ).all()
        for row in rows:
            some = min(count, row.unread)
            count -= some
            left = {"unread": row.unread - some, "lines": row.lines - (some if has_own else 0)}
            same = (arrival.c.at == row.at) & (arrival.c.stamp == row.stamp)
            connection.execute(sa.update(arrival).where(ours, same).values(**left))
