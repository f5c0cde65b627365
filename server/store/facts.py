"""Small facts by name: the store's version, the longest over, and what other rooms keep."""

import sqlalchemy as sa

from server.store.schema import fact
from shared.zones import DAY

FORGOTTEN = "forgotten"  #: when an identity was last erased; not whose


class Raced(Exception):
    """Another process has written to the store since the check-points were read."""


def read_fact(connection: sa.Connection, name: str) -> str | None:
    """A fact; None where it is not there."""
    return connection.execute(sa.select(fact.c.value).where(fact.c.name == name)).scalar()


def names_of_facts(connection: sa.Connection, prefix: str, value: str) -> list[str]:
    """The facts of this value whose name begins so."""
    query = sa.select(fact.c.name).where(fact.c.name.startswith(prefix, autoescape=True), fact.c.value == value)
    return list(connection.execute(query).scalars())


def read_version(connection: sa.Connection) -> int:
    """How many batches the store has taken."""
    value = read_fact(connection, "version")
    return int(value) if value is not None else 0


def raise_version(connection: sa.Connection, expected: int | None = None) -> int:
    """Count one more batch. Raises Raced where the store does not stand at `expected`."""
    now = read_version(connection)
    if expected is not None and now != expected:
        raise Raced
    set_fact(connection, "version", str(now + 1))
    return now + 1


def set_fact(connection: sa.Connection, name: str, value: str) -> None:
    """Keep a small fact."""
    if connection.execute(sa.update(fact).where(fact.c.name == name).values(value=value)).rowcount == 0:
        connection.execute(sa.insert(fact).values(name=name, value=value))


def keep_longest(connection: sa.Connection, length_us: int | None) -> None:
    """Remember the longest over, so that readers know how far back one may begin that reaches into their window."""
    if length_us is not None and length_us > read_longest(connection):
        set_fact(connection, "longest", str(length_us))


def read_longest(connection: sa.Connection) -> int:
    """A length that no stored over exceeds, microseconds; a day at least, so that it seldom changes."""
    value = read_fact(connection, "longest")
    return max(DAY, int(value)) if value is not None else DAY
